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
    lower: count === 0 ? 0 : bisect((p) => 1 - binomialAtMost(count - 1, trials, p) < tail),
    upper: count === trials ? 1 : bisect((p) => binomialAtMost(count, trials, p) > tail),
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

/**
 * Probability of `count` successes or fewer among `trials`, by the binomial distribution. Terms are summed outwards from the
 * likeliest one until they no longer count, so that a million trials take no longer than their spread.
 * @example binomialAtMost(1, 3, 0.5) // 0.5
 */
export function binomialAtMost(count: number, trials: number, p: number): number {
  if (count < 0) return 0;
  if (p <= 0 || count >= trials) return 1;
  if (p >= 1) return 0;
  const mode = Math.min(trials, Math.floor((trials + 1) * p));
  const odds = p / (1 - p);
  let [below, above] = [0, 0];
  const add = (k: number, weight: number) => {
    if (k <= count) below += weight;
    else above += weight;
  };
  add(mode, 1);
  for (let k = mode, weight = 1; k < trials && weight > NEGLIGIBLE; k++) {
    weight *= ((trials - k) / (k + 1)) * odds;
    add(k + 1, weight);
  }
  for (let k = mode, weight = 1; k > 0 && weight > NEGLIGIBLE; k--) {
    weight *= k / ((trials - k + 1) * odds);
    add(k - 1, weight);
  }
  return below / (below + above);
}

/** Part of the likeliest term. */
const NEGLIGIBLE = 1e-30;
