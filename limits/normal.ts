/**
 * Probability that a standard normal deviate is at most x; relative error below 1e-12 in the far lower tail too.
 * @see NIST Digital Library of Mathematical Functions, 7.2 (erfc), 7.6.2 (series), 7.9.3 (continued fraction)
 * @example normalCdf(1.64485362695147) // 0.95
 */
export function normalCdf(x: number): number {
  return 0.5 * erfc(-x / Math.SQRT2);
}

/**
 * The x for which normalCdf(x) is the given probability.
 * @param probability between 0 and 1; 0 and 1 themselves give the infinities
 * @see Abramowitz & Stegun, 26.2.23, for the first guess; refined by Halley steps on normalCdf
 * @example normalQuantile(0.975) // 1.95996398454005
 */
export function normalQuantile(probability: number): number {
  if (!(probability >= 0 && probability <= 1)) return Number.NaN;
  if (probability === 0) return Number.NEGATIVE_INFINITY;
  if (probability === 1) return Number.POSITIVE_INFINITY;
  if (probability > 0.5) return -lowerQuantile(1 - probability);
  return lowerQuantile(probability);
}

function lowerQuantile(probability: number): number {
  if (probability === 0.5) return 0;
  const t = Math.sqrt(-2 * Math.log(probability));
  const above = 2.515517 + t * (0.802853 + t * 0.010328);
  const below = 1 + t * (1.432788 + t * (0.189269 + t * 0.001308));
  let x = above / below - t;
  for (let step = 0; step < 4; step++) {
    const density = Math.exp(-0.5 * x * x) / Math.sqrt(2 * Math.PI);
    if (density === 0) break;
    const newton = (normalCdf(x) - probability) / density;
    x -= newton / (1 + 0.5 * x * newton);
  }
  return x;
}

/** Complementary error function. */
function erfc(x: number): number {
  if (Number.isNaN(x)) return Number.NaN;
  if (x < 0) return 2 - erfc(-x);
  return x < 2 ? 1 - erfBySeries(x) : erfcByFraction(x);
}

// All terms have one sign, so that nothing cancels.
function erfBySeries(x: number): number {
  let term = x;
  let sum = x;
  for (let n = 1; term > sum * 1e-17; n++) {
    term *= (2 * x * x) / (2 * n + 1);
    sum += term;
  }
  return (2 / Math.sqrt(Math.PI)) * Math.exp(-x * x) * sum;
}

// Evaluated from its far end; 100 levels are more than x = 2 needs.
function erfcByFraction(x: number): number {
  if (x > 27.3) return 0; // below the smallest number
  let tail = x;
  for (let n = 100; n >= 1; n--) tail = x + n / 2 / tail;
  return Math.exp(-x * x) / (Math.sqrt(Math.PI) * tail);
}
