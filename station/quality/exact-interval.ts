/**
 * Two-sided confidence interval of a probability of which `count` of `trials` was seen, exact in that it covers at least as
 * often as it says.
 * @see Clopper and Pearson, Biometrika 26 (1934) 404-413
 * @example exactInterval(0, 4000).upper // 0.000922: 1 - 0.025 ** (1 / 4000)
 */
export function exactInterval(
  count: number,
  trials: number,
  confidence = 0.95,
): { readonly lower: number; readonly upper: number } {
  const tail = (1 - confidence) / 2;
  return {
    lower: count === 0 ? 0 : bisect((p) => 1 - atMost(count - 1, trials, p) < tail),
    upper: count === trials ? 1 : bisect((p) => atMost(count, trials, p) > tail),
  };
}

/** The probability up to which the condition holds. */
function bisect(holds: (p: number) => boolean): number {
  let low = 0;
  let high = 1;
  for (let k = 0; k < 60; k++) {
    const middle = (low + high) / 2;
    if (holds(middle)) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** Probability of `count` successes or fewer. */
function atMost(count: number, trials: number, p: number): number {
  if (p <= 0) return 1;
  if (p >= 1) return count >= trials ? 1 : 0;
  let logTerm = trials * Math.log1p(-p);
  let sum = 0;
  for (let k = 0; k <= count; k++) {
    sum += Math.exp(logTerm);
    logTerm += Math.log(((trials - k) / (k + 1)) * (p / (1 - p)));
  }
  return Math.min(1, sum);
}
