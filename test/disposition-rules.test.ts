import { describe, expect, it } from "vitest";
import { type Act, type DecidedUnit, LEAST_ROLE, whyNot } from "../station/disposition-rules.ts";
import type { AttemptSummary } from "../station/records/index-db.ts";
import type { UnitState } from "../station/records/unit-state.ts";
import { summary } from "./yield/example-summary.ts";

const ACTS = ["hold", "release", "rework", "scrap"] as const;

/** A unit in this state; of a rework's own rule only that its newest test has this verdict. */
function unitIn(
  state: UnitState["state"],
  verdict: AttemptSummary["verdict"] = "pass",
  more: Partial<DecidedUnit> = {},
): DecidedUnit {
  const newest = summary({ serial: "A1", verdict });
  const attempts = state === "none" ? [] : [newest];
  return {
    serial: "A1",
    attempts,
    dispositions: [],
    newest: attempts[0] ?? null,
    isReworked: state === "reworked",
    isScrapped: state === "scrapped",
    state: { state, since: null, by: null, reason: null, attempt: 1, other_holds: 0 },
    ...more,
  };
}

const AT_REST = { isUnderTest: false, retest: null };

describe("what may be decided about a unit", () => {
  it.each<[UnitState["state"], AttemptSummary["verdict"], Record<Act, RegExp | null>]>([
    [
      "good",
      "pass",
      { hold: null, release: /nothing to release/, rework: /did not fail/, scrap: /on hold first/ },
    ],
    ["failed", "fail", { hold: null, release: /nothing to release/, rework: null, scrap: null }],
    ["held", "pass", { hold: null, release: null, rework: null, scrap: null }],
    ["held", "fail", { hold: null, release: null, rework: null, scrap: null }],
    ["held", "void", { hold: null, release: null, rework: null, scrap: null }],
    ["in_doubt", "pass", { hold: null, release: null, rework: /did not fail/, scrap: null }],
    ["in_doubt", "fail", { hold: null, release: null, rework: null, scrap: null }],
    [
      "reworked",
      "fail",
      { hold: null, release: /nothing to release/, rework: /recorded already.*test it now/, scrap: null },
    ],
    [
      "void",
      "void",
      {
        hold: null,
        release: /nothing to release/,
        rework: /no valid measurement.*test it again/,
        scrap: null,
      },
    ],
    ["scrapped", "fail", { hold: /final/, release: /final/, rework: /final/, scrap: /final/ }],
    [
      "none",
      "pass",
      {
        hold: /check the serial/,
        release: /check the serial/,
        rework: /check the serial/,
        scrap: /check the serial/,
      },
    ],
  ])("that is %s, and whose newest test is a %s", (state, verdict, expected) => {
    for (const act of ACTS) {
      const why = whyNot(act, unitIn(state, verdict), AT_REST);
      const words = expected[act];
      if (words === null) expect(why, act).toBeNull();
      else expect(why, act).toMatch(words);
    }
  });

  it("while it is being tested is a hold, and nothing else", () => {
    for (const act of ACTS) {
      const why = whyNot(act, unitIn("failed", "fail"), { isUnderTest: true, retest: null });
      if (act === "hold") expect(why).toBeNull();
      else expect(why).toMatch(/A test of A1 has begun and is not recorded yet/);
    }
    const first = { isUnderTest: true, retest: null };
    expect(whyNot("hold", unitIn("none"), first)).toMatch(/A test of A1 has begun/);
  });

  it("is one rework for a test, also of a unit on hold, which then waits for its release", () => {
    const unit = unitIn("held", "pass", { isReworked: true });
    expect(whyNot("rework", unit, AT_REST)).toMatch(/recorded already.*once a supervisor has released it/);
  });

  it("is nothing for a reference piece, and for what was tested for nothing", () => {
    const piece = { attempts: [summary({ recordKind: "reference" })] };
    const draft = { attempts: [summary({ draft: true })] };
    for (const act of ACTS) {
      expect(whyNot(act, unitIn("none", "pass", piece), AT_REST)).toMatch(/is a reference piece/);
      expect(whyNot(act, unitIn("none", "pass", draft), AT_REST)).toMatch(/on draft limits only/);
    }
  });

  it("is stopping and repairing for everybody, letting go and ending for a supervisor", () => {
    expect(LEAST_ROLE).toEqual({
      hold: "inspector",
      rework: "inspector",
      release: "supervisor",
      scrap: "supervisor",
    });
  });
});
