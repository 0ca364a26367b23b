import type { AttemptSummary } from "../../station/records/index-db.ts";

let made = 0;

/** An attempt as the index keeps it: a first, valid, passed one of a unit, with whatever is said otherwise. */
export function summary(more: Partial<AttemptSummary> = {}): AttemptSummary {
  const sequence = more.sequence ?? ++made;
  const verdict = more.verdict ?? "pass";
  return {
    sequence,
    sha256: sequence.toString(16).padStart(64, "0"),
    path: `2026/01/05/${sequence}.json`,
    id: sequence.toString(16).padStart(32, "0"),
    recordKind: "unit",
    serial: `U${sequence}`,
    model: "demo-body",
    attempt: 1,
    kind: (more.attempt ?? 1) === 1 ? "first" : "retest",
    draft: false,
    verdict,
    started_at: "2026-01-05T06:00:00.000Z",
    ended_at: "2026-01-05T06:00:30.000Z",
    codes: verdict === "pass" ? [] : ["OUT_OF_LIMITS"],
    causes: verdict === "fail" ? ["leak rate"] : [],
    suspect: null,
    reference: null,
    ...more,
  };
}
