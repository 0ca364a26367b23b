import { localTime } from "./local-time.ts";
import type { UnitState } from "./unit-state.ts";

const STATE_WORDS = {
  good: "PASSED",
  failed: "FAILED",
  held: "ON HOLD",
  in_doubt: "IN DOUBT",
  scrapped: "SCRAPPED",
  reworked: "REWORKED",
  void: "NO VALID TEST",
  none: "NOT TESTED",
} as const satisfies Record<UnitState["state"], string>;

/**
 * Whether a unit may be sent on, in one line; times are local.
 * @example "ON HOLD since 2026-01-05 07:12:40 by A. Marsh, because: dented at the latch. Do not ship it."
 */
export function unitStateText(it: UnitState): string {
  const word = STATE_WORDS[it.state];
  const since = it.since === null ? "" : ` ${localTime(it.since)}`;
  const by = it.by === null ? "" : ` by ${it.by}`;
  const because = it.reason === null || it.reason === "" ? "" : `, because: ${sentence(it.reason)}`;
  switch (it.state) {
    case "good":
      return `${word}${since}: these records say nothing against shipping it.`;
    case "failed":
      return `${word}${since}${it.reason ? `: ${it.reason}` : ""}. Do not ship it.`;
    case "held":
      return `${word} since${since}${by}${because}${othersText(it.other_holds)}. Do not ship it before a supervisor has released it.`;
    case "in_doubt":
      return `${word}${since === "" ? "" : ` since${since}`}${because}. Do not ship it before it is tested again or released.`;
    case "scrapped":
      return `${word}${since}${by}${because}. Never ship it.`;
    case "reworked":
      return `${word}${since}${by}, and not tested again since. Do not ship it.`;
    case "void":
      return `${word}${it.reason ? `: ${it.reason}` : ""}. Do not ship it.`;
    case "none":
      return `${word}${it.reason ? `, ${it.reason}` : ""}: no test of it counts. Do not ship it.`;
  }
}

/** A release lifts one hold: whoever reads only the first line is not to think that it was the last. */
function othersText(others: number): string {
  return others === 0 ? "" : `, and ${others} more ${others === 1 ? "hold keeps" : "holds keep"} it`;
}

function sentence(reason: string): string {
  return reason.replace(/\.$/, "");
}
