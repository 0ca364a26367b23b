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
  // Where nothing or everything was seen the sum has one term.
  const lower =
    count === 0 ? 0 : count === trials ? tail ** (1 / trials) : quantile(count - 1, trials, 1 - tail);
  const upper =
    count === trials ? 1 : count === 0 ? -Math.expm1(Math.log(tail) / trials) : quantile(count, trials, tail);
  return { lower, upper };
}

/** @returns the probability of a single success with which `count` or fewer are as likely as this; 0 <= count < trials */
function quantile(count: number, trials: number, atMost: number): number {
  let [low, high] = [0, 1];
  let p = nearby(count, trials, atMost);
  for (let k = 0; k < STEPS_MOST; k++) {
    const { sum, term } = binomialSum(count, trials, p);
    if (sum > atMost) low = p;
    else high = p;
    // Halley's step by the sum's own derivatives, as long as it stays where the root is; else by halves.
    const newton = ((sum - atMost) * (1 - p)) / ((trials - count) * term);
    const bend = count / p - (trials - count - 1) / (1 - p);
    const step = newton / (1 + (newton * bend) / 2);
    const next = p + step;
    // What is left to go is about the third power of the step, both in parts of what can be told apart here.
    const scale = Math.min(p, 1 - p, Math.sqrt((p * (1 - p)) / trials));
    if (Math.abs(step) <= EXACT * scale) return next;
    p = next > low && next < high ? next : (low + high) / 2;
  }
  return p;
}

/**
 * Where the search begins: from here it takes a third less time than from what was seen.
 * @returns the bound that the normal distribution gives, some hundredths of its distance off
 * @see Wilson, Journal of the American Statistical Association 22 (1927) 209-212, with a continuity correction; the normal
 * quantile by Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.2.22
 */
function nearby(count: number, trials: number, atMost: number): number {
  const t = Math.sqrt(-2 * Math.log(Math.min(atMost, 1 - atMost)));
  const z = (t - (2.30753 + 0.27061 * t) / (1 + 0.99229 * t + 0.04481 * t * t)) * (atMost < 0.5 ? 1 : -1);
  const seen = (count + 0.5) / trials;
  const spread = z * Math.sqrt((seen * (1 - seen)) / trials + (z / (2 * trials)) ** 2);
  return (seen + (z * z) / (2 * trials) + spread) / (1 + (z * z) / trials);
}

const EXACT = 1e-6;

/** Each halves what is left, at least every other time. */
const STEPS_MOST = 200;

/**
 * Probability of `count` successes or fewer among `trials`, by the binomial distribution. Terms are summed outwards from the
 * likeliest one until they no longer count, so that a million trials take no longer than their spread.
 * @example binomialAtMost(1, 3, 0.5) // 0.5
 */
export function binomialAtMost(count: number, trials: number, p: number): number {
  if (count < 0) return 0;
  if (p <= 0 || count >= trials) return 1;
  if (p >= 1) return 0;
  return binomialSum(count, trials, p).sum;
}

/** @returns the probability of `count` or fewer, and of `count` alone; 0 <= count < trials, 0 < p < 1 */
function binomialSum(
  count: number,
  trials: number,
  p: number,
): { readonly sum: number; readonly term: number } {
  const mode = Math.min(trials, Math.floor((trials + 1) * p));
  const odds = p / (1 - p);
  let [below, above, term] = [0, 0, 0];
  const add = (k: number, weight: number) => {
    if (k <= count) below += weight;
    else above += weight;
    if (k === count) term = weight;
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
  return { sum: below / (below + above), term: term / (below + above) };
}

/** Part of the likeliest term. */
const NEGLIGIBLE = 1e-30;
