import type { Sample } from "../sample.ts";
import { studentizedRangeCdf, studentizedRangeQuantile } from "./studentized-range.ts";

/** Two groups against each other, with all other pairs in mind. */
export interface Pair {
  readonly a: string;
  readonly b: string;
  /** Mean of a less mean of b, and where it lies with 95 % for all pairs together. */
  readonly difference: number;
  readonly lower: number;
  readonly upper: number;
  readonly p: number;
}

export interface NamedSample {
  readonly name: string;
  readonly sample: Sample;
}

const CONFIDENCE = 0.95;

/**
 * All pairs, the scatter within being the same in all groups.
 * @param s_res residual standard deviation and its degrees of freedom, of oneWayAnova
 * @see Tukey and Kramer: NIST/SEMATECH e-Handbook, 7.4.7.1
 */
export function tukeyKramer(groups: readonly NamedSample[], s_res: number, df: number): Pair[] {
  const reach = studentizedRangeQuantile(CONFIDENCE, groups.length, df);
  return pairsOf(groups, (a, b) => ({
    error: s_res * Math.sqrt((1 / a.n + 1 / b.n) / 2),
    reach,
    df,
  }));
}

/**
 * All pairs, each with its own scatter. Groups of one value are passed over.
 * @see Games and Howell 1976, Journal of Educational Statistics 1, 113-125 (from memory)
 */
export function gamesHowell(groups: readonly NamedSample[]): Pair[] {
  const used = groups.filter(({ sample }) => sample.n >= 2);
  return pairsOf(used, (a, b) => {
    const [va, vb] = [(a.s * a.s) / a.n, (b.s * b.s) / b.n];
    const df = (va + vb) ** 2 / ((va * va) / (a.n - 1) + (vb * vb) / (b.n - 1));
    return {
      error: Math.sqrt((va + vb) / 2),
      reach: studentizedRangeQuantile(CONFIDENCE, used.length, df),
      df,
    };
  });
}

/** @param weigh standard error of the difference over sqrt(2), the quantile of the studentized range, its degrees of freedom */
function pairsOf(
  groups: readonly NamedSample[],
  weigh: (a: Sample, b: Sample) => { readonly error: number; readonly reach: number; readonly df: number },
): Pair[] {
  return groups.flatMap((one, i) =>
    groups.slice(i + 1).map((other) => {
      const { error, reach, df } = weigh(one.sample, other.sample);
      const difference = one.sample.mean - other.sample.mean;
      const q = Math.abs(difference) / error;
      return {
        a: one.name,
        b: other.name,
        difference,
        lower: difference - reach * error,
        upper: difference + reach * error,
        p: Math.max(0, 1 - studentizedRangeCdf(q, groups.length, df)),
      };
    }),
  );
}
