import type { Doubts } from "../records/doubts.ts";
import type { AttemptSummary } from "../records/index-db.ts";

export interface LastUnit {
  readonly serial: string;
  readonly model: string;
  /** "doubt": its newest valid attempt is held. */
  readonly verdict: "pass" | "fail" | "void" | "doubt";
  readonly attempt: number;
  readonly at: string;
}

/** What a day, or a shift, came to. References and drafts are no part of it. */
export interface DayCount {
  /** Tests made: pass + fail + void + those whose unit is on hold or was tested anew because of a hold. */
  readonly tested: number;
  /** Tests that can be trusted, by verdict. */
  readonly pass: number;
  readonly fail: number;
  readonly void: number;
  /** Units whose first valid inspection this was, and how many of them passed it. */
  readonly inspected: number;
  readonly firstPassed: number;
  /** Null when nothing was inspected. */
  readonly firstPassYield: number | null;
  /** Where the true first pass yield lies, 95 %, Clopper-Pearson. */
  readonly interval: { readonly low: number; readonly high: number } | null;
  /** Units whose newest valid test is held: neither passed nor failed. */
  readonly heldInDoubt: number;
  /** Failed units by what they failed by, most frequent first; a unit counts once for each. */
  readonly causes: ReadonlyMap<string, number>;
  /** Failed units by what their first failure was suspected of first, most frequent first. */
  readonly suspected: ReadonlyMap<string, number>;
  /** Failed units that no rule fits. */
  readonly notSuspected: number;
  /** Newest first, each once. */
  readonly lastUnits: readonly LastUnit[];
}

export const LAST_UNITS = 5;

export const NOTHING_COUNTED: DayCount = {
  tested: 0,
  pass: 0,
  fail: 0,
  void: 0,
  inspected: 0,
  firstPassed: 0,
  firstPassYield: null,
  interval: null,
  heldInDoubt: 0,
  causes: new Map(),
  suspected: new Map(),
  notSuspected: 0,
  lastUnits: [],
};

export function dayCount(_attempts: readonly AttemptSummary[], _doubts: Doubts): DayCount {
  throw new Error("Being written.");
}
