import type { Traveller } from "../records/traveller.ts";
import type { UnitState } from "../records/unit-state.ts";

/** What stands largest on a page or label. */
export interface Stamp {
  readonly word: string;
  /** Only a unit that may go on: its newest valid test passed, it counts, and nothing was decided against it. */
  readonly isPass: boolean;
  /** What a reader must know beside the word, most important first. */
  readonly lines: readonly string[];
}

export interface Stamped {
  readonly traveller: Pick<Traveller, "kind" | "draft" | "study" | "verdict" | "attempt" | "station">;
  /** Of the unit, by everything that is recorded of it. */
  readonly state: UnitState;
  /** Number of the unit's newest valid attempt that counts. */
  readonly newest: number | null;
  readonly isUnderTest: boolean;
}

const NO_SHIPPING = "DOES NOT SHIP";

/**
 * The word for a unit. What was decided about it goes before what was measured, and whatever is no proof of a product is never called
 * a pass.
 * @example stampOf({ ...passed, state: { ...good, state: "held" } }).word // "ON HOLD"
 */
export function stampOf(it: Stamped): Stamp {
  const { traveller } = it;
  const marks = marksOf(it);
  const test = `this test: ${traveller.verdict}`;
  const against = decidedWord(it);
  if (against) return { isPass: false, word: against.word, lines: [...against.lines, test, ...marks] };
  const { verdict, kind } = traveller;
  if (kind === "reference") {
    return {
      isPass: false,
      word: "REFERENCE",
      lines: [`reference piece: ${verdict}`, "no product", ...marks],
    };
  }
  if (verdict !== "pass")
    return { isPass: false, word: verdict.toUpperCase(), lines: [NO_SHIPPING, ...marks] };
  if (traveller.draft) {
    return { isPass: false, word: traveller.study ? "STUDY" : "DRAFT", lines: [test, ...marks] };
  }
  if (it.newest !== traveller.attempt.number) {
    return { isPass: false, word: "OUTDATED", lines: [test, ...marks] };
  }
  if (traveller.station.simulated) return { isPass: false, word: "SIMULATED", lines: [test, ...marks] };
  if (it.state.state !== "good")
    return { isPass: false, word: "NO PASS", lines: [NO_SHIPPING, test, ...marks] };
  return { isPass: true, word: "PASS", lines: marks };
}

function decidedWord({ state, isUnderTest }: Stamped): { word: string; lines: readonly string[] } | null {
  const why = state.reason === null ? [] : [state.reason];
  switch (state.state) {
    case "scrapped":
      return { word: "SCRAPPED", lines: [NO_SHIPPING, ...why] };
    case "held":
      return { word: "ON HOLD", lines: [NO_SHIPPING, ...why] };
    case "in_doubt":
      return { word: "ON HOLD", lines: [`IN DOUBT: ${NO_SHIPPING}`, ...why] };
    case "reworked":
      return { word: "REWORKED", lines: [`NOT TESTED SINCE: ${NO_SHIPPING}`] };
    default:
      return isUnderTest ? { word: "UNDER TEST", lines: ["a test has begun and is not recorded yet"] } : null;
  }
}

function marksOf({ traveller, newest }: Stamped): string[] {
  const { draft, study, attempt, station } = traveller;
  return [
    ...(study ? [`measured for the study ${study.name}: counts for nothing`] : []),
    ...(draft && !study ? ["draft limits: counts for nothing"] : []),
    ...(newest !== null && newest > attempt.number && !draft ? [`attempt ${newest} is newer`] : []),
    ...(station.simulated ? ["simulated: no real unit"] : []),
  ];
}
