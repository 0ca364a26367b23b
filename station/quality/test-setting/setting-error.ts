/** A leak rate as one curve gave it, in the unit of the limit, with the two kinds of its standard uncertainty. */
export interface RateFound {
  readonly value: number;
  /** What a leak of any size has. */
  readonly constant: number;
  /** What grows with the leak, as a part of it. */
  readonly relative: number;
}

/** One curve by every setting. */
export interface TimingCurve {
  /** By all of the curve, which stands for the truth as far as its uncertainty goes. */
  readonly longest: RateFound;
  /** In the order of the settings; null where that setting gives no verdict. */
  readonly bySetting: readonly (RateFound | null)[];
}

/** A standard deviation from fewer is known to worse than a quarter. */
export const LEAST_CURVES = 10;

/** How wrong a setting is, in the unit of the limit. */
export interface ErrorFound {
  /** Curves that it gave a value of. */
  readonly verdicts: number;
  /** By the budget: what a leak of any size has, and what grows with the leak. */
  readonly constant: number;
  readonly relative: number;
  /** Of its values against those of the whole curves. */
  readonly bias: number;
  readonly spread: number;
  /** Standard deviation of the constant part, the budget's or the one found. */
  readonly error: number;
}

/**
 * The error of a setting is what its budget says or what its values scatter about those of the whole curves, whichever is
 * more: with d their difference, Var(error) = Var(d) + u(whole curve)^2, since the difference from an efficient estimate
 * is independent of that estimate's error (Hausman, Econometrica 46 (1978) 1251, from memory). Its mean counts as a shift.
 * Budgets count by their mean, since some bodies are measured worse than most; one so uncertain that it passes nobody is no verdict.
 * @param k of the settings
 * @param mostUncertain a standard uncertainty above which the station passes nobody
 */
export function errorOf(curves: readonly TimingCurve[], k: number, mostUncertain: number): ErrorFound {
  const all = curves.flatMap(({ longest, bySetting }) => {
    const rate = bySetting[k];
    return rate ? [{ longest, rate }] : [];
  });
  const pairs = all.filter(({ rate }) => rate.constant <= mostUncertain);
  if (pairs.length < LEAST_CURVES) {
    const constant = median(all.map(({ rate }) => rate.constant));
    const relative = median(all.map(({ rate }) => rate.relative));
    return { verdicts: pairs.length, constant, relative, bias: 0, spread: 0, error: constant };
  }
  const constant = mean(pairs.map(({ rate }) => rate.constant));
  const relative = mean(pairs.map(({ rate }) => rate.relative));
  const differences = pairs.map(({ rate, longest }) => rate.value - longest.value);
  const bias = mean(differences);
  const spread = deviation(differences, bias);
  const whole = mean(pairs.map(({ longest }) => longest.constant));
  const error = Math.max(constant, Math.hypot(spread, whole));
  return { verdicts: pairs.length, constant, relative, bias, spread, error };
}

/**
 * Errors at times between those that were tried: sizes as powers of time, which noise and fits follow, the rest in a straight
 * line over its logarithm. Beyond the ends it goes on as from the last two.
 * @param steps of one settling time, in any order; those with too few verdicts tell nothing, one must
 * @example between([{ measure_s: 1, constant: 8, ... }, { measure_s: 4, constant: 1, ... }])(2).constant // 2.83
 */
export function between(
  steps: readonly (ErrorFound & { readonly measure_s: number })[],
): (measure_s: number) => ErrorFound {
  const sorted = steps
    .filter(({ verdicts }) => verdicts >= LEAST_CURVES)
    .sort((a, b) => a.measure_s - b.measure_s);
  return (measure_s) => {
    const above = sorted.findIndex((step) => step.measure_s >= measure_s);
    const upper = above === -1 ? sorted.length - 1 : Math.max(above, Math.min(1, sorted.length - 1));
    const b = sorted[upper];
    const a = sorted[Math.max(0, upper - 1)];
    if (!a || !b) throw new RangeError("Errors are needed at one time at least.");
    if (a === b) return b;
    const part = Math.log(measure_s / a.measure_s) / Math.log(b.measure_s / a.measure_s);
    const straight = (from: number, to: number) => from + part * (to - from);
    const power = (from: number, to: number) =>
      from > 0 && to > 0 ? Math.exp(straight(Math.log(from), Math.log(to))) : straight(from, to);
    return {
      verdicts: b.verdicts,
      constant: power(a.constant, b.constant),
      relative: straight(a.relative, b.relative),
      bias: straight(a.bias, b.bias),
      spread: power(a.spread, b.spread),
      error: power(a.error, b.error),
    };
  };
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

function deviation(values: readonly number[], about: number): number {
  return Math.sqrt(values.reduce((sum, value) => sum + (value - about) ** 2, 0) / (values.length - 1));
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length / 2;
  const upper = sorted[Math.floor(middle)] ?? 0;
  return Number.isInteger(middle) ? (upper + (sorted[middle - 1] ?? 0)) / 2 : upper;
}
