import chisquareQuantile from "@stdlib/stats-base-dists-chisquare-quantile";
import { NoStudy } from "../study-report.ts";
import type { Interval } from "./mls-interval.ts";
import { type BiasTest, biasTest } from "./t-test.ts";
import { checkUsable, checkWidth } from "./usable-values.ts";

export interface Type1Settings {
  /** Known value of the piece. */
  readonly reference: number;
  /** Width of the tolerance that the gauge is to judge. */
  readonly tolerance: number;
  /** Standard deviations that count as the gauge's spread. */
  readonly spread: 4 | 6;
  /** Share of the tolerance that the spread may take, per cent. */
  readonly share: number;
}

export interface Type1 extends BiasTest {
  readonly s: number;
  /** (share T) / (spread s); null where the readings never differ. */
  readonly Cg: number | null;
  readonly Cgk: number | null;
  /** Of Cg, by chi-squared. */
  readonly Cg_CI95: Interval | null;
  /** Share / Cg and share / Cgk: how much of the tolerance spread, and spread with bias, take. */
  readonly pct_repeatability: number;
  readonly pct_repeatability_bias: number | null;
}

/**
 * Type-1 gauge study: one piece of known value measured again and again.
 * @throws NoStudy for fewer than two readings, or a tolerance or share that is none
 * @see common practice, with K = 20 % of the tolerance and six standard deviations; some houses take four. No one standard;
 * ISO 22514-7 has similar indices with uncertainty
 * @example type1([5.99, 6.01, 6.02], { reference: 6, tolerance: 1.2, spread: 6, share: 20 }).Cg // 2.62
 */
export function type1(values: readonly number[], settings: Type1Settings): Type1 {
  const { reference, tolerance, spread, share } = settings;
  checkUsable([...values, reference]);
  checkWidth(tolerance);
  if (!(share > 0 && share <= 100)) throw new NoStudy("The share must be above 0 % and at most 100 %.");
  if (values.length < 2) {
    throw new NoStudy(
      "One reading shows no spread: measure the same piece at least 25 times, better 50, put on anew each time.",
    );
  }
  const test = biasTest(values, reference);
  const s = test.s ?? 0;
  const room = (share / 100) * tolerance;
  const Cg = s > 0 ? room / (spread * s) : null;
  const chi = (probability: number) => Math.sqrt(chisquareQuantile(probability, test.df) / test.df);
  const Cgk = s > 0 ? (room / 2 - Math.abs(test.bias)) / ((spread / 2) * s) : null;
  return {
    ...test,
    s,
    Cg,
    Cgk,
    Cg_CI95: Cg === null ? null : { lower: Cg * chi(0.025), upper: Cg * chi(0.975) },
    pct_repeatability: (100 * spread * s) / tolerance,
    pct_repeatability_bias: Cgk !== null && Cgk > 0 ? share / Cgk : null,
  };
}
