import type { DisposedUnit, Disposition } from "./disposition.ts";
import type { AttemptSummary } from "./index-db.ts";

/** What holds take away from travellers, by the SHA-256 of each. */
export interface Doubts {
  /** Held, not released, and the unit has no newer valid attempt: nobody may count it as passed. */
  readonly inDoubt: ReadonlySet<string>;
  /** Held and never released, whatever came after: evidence of nothing. Holds everything of `inDoubt`. */
  readonly untrusted: ReadonlySet<string>;
  /** First valid attempts of units whose earlier ones are all untrusted: their first inspection, though called a retest. */
  readonly firstInspections: ReadonlySet<string>;
}

/** A unit in doubt, and the holds that nobody has lifted, oldest first. */
export interface UnitInDoubt extends DisposedUnit {
  readonly model: string;
  readonly verdict: AttemptSummary["verdict"];
  readonly holds: readonly Disposition[];
  /** Scrapped since: still not counted, but nobody has to deal with it any more. */
  readonly isScrapped: boolean;
}

export const NO_DOUBTS: Doubts = {
  inDoubt: new Set(),
  untrusted: new Set(),
  firstInspections: new Set(),
};
