import { exactInterval } from "../quality/exact-interval.ts";
import { mcnemarExact, pairedDifference } from "../quality/paired-proportions.ts";
import { comparedUnits, type UnitCounts, unitsOf } from "./tally.ts";

/** A yield with its exact 95 % interval, Clopper-Pearson. */
export interface Yield {
  readonly good: number;
  readonly yield: number;
  readonly lower: number;
  readonly upper: number;
}

/** Units by the limits that judged them and by those replayed, and their yields, of the same units. */
export interface YieldChange {
  readonly units: number;
  readonly passBoth: number;
  readonly failBoth: number;
  readonly keptFail: number;
  readonly passToFail: number;
  readonly failToPass: number;
  readonly toVoid: number;
  readonly notRejudged: Readonly<Record<string, number>>;
  /** Units with a verdict both times; the yields are theirs. */
  readonly compared: number;
  /** Null where none is compared. */
  readonly before: Yield | null;
  readonly after: Yield | null;
  /**
   * Yields of all units, those too that can't be compared, as parts: what it was, and what it lies between now, whichever of
   * these would pass. Null where there is no unit.
   */
  readonly ofAll: { readonly before: number; readonly afterLeast: number; readonly afterMost: number } | null;
  /** After less before, of the same units: 95 % interval by Bonett and Price, p by McNemar's exact test. */
  readonly difference: {
    readonly difference: number;
    readonly lower: number;
    readonly upper: number;
    readonly p: number;
  } | null;
}

export function yieldChange(counts: UnitCounts): YieldChange {
  const { passPass, failFail, keptFail, passFail, failPass, toVoid, leftPass, notRejudged } = counts;
  const compared = comparedUnits(counts);
  const units = unitsOf(counts);
  const good = passPass + failPass;
  const change = { pairs: compared, toGood: failPass, toBad: passFail };
  return {
    units,
    passBoth: passPass,
    failBoth: failFail,
    keptFail,
    passToFail: passFail,
    failToPass: failPass,
    toVoid,
    notRejudged: Object.fromEntries(notRejudged),
    compared,
    before: compared === 0 ? null : yieldOf(passPass + passFail, compared),
    after: compared === 0 ? null : yieldOf(good, compared),
    ofAll:
      units === 0
        ? null
        : {
            before: (passPass + passFail + leftPass) / units,
            afterLeast: good / units,
            afterMost: (good + units - compared) / units,
          },
    difference: compared === 0 ? null : { ...pairedDifference(change), p: mcnemarExact(change) },
  };
}

function yieldOf(good: number, units: number): Yield {
  return { good, yield: good / units, ...exactInterval(good, units) };
}
