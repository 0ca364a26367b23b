import { NoStudy } from "../study-report.ts";

/** One unit: a number known of it, and whether the event came. */
export interface BinaryPoint {
  readonly x: number;
  readonly event: boolean;
}

/** ln(p / (1 - p)) = intercept + slope x, by maximum likelihood. */
export interface LogisticFit {
  readonly intercept: number;
  readonly slope: number;
  /** Variances of both and their covariance, from the information at the maximum. */
  readonly variance: { readonly intercept: number; readonly slope: number; readonly both: number };
  readonly logLikelihood: number;
  /** With a slope of 0. */
  readonly nullLogLikelihood: number;
}

export interface LeakAtProbability {
  readonly value: number;
  /** By the delta method. */
  readonly standardError: number;
  /** Profile likelihood, 95 %, both sides. */
  readonly lower: number;
  readonly upper: number;
}

/** The 95 % quantile of chi-squared with one degree of freedom (any table). */
export const CHI_SQUARED_95 = 3.841458820694124;
const MOST_STEPS = 50;
/** Below it digits run out: as a part of the values, and by itself where they are below one; no leak in use differs by so little. */
const LEAST_SPREAD = 1e-12;

/**
 * Logistic regression on one variable, by Newton's method with halved steps.
 * @throws NoStudy where no event or nothing but events came, or where they lie apart, so that no maximum is there
 * @example fitLogistic(points) // intercept -4.0777, slope 1.5046 for the twenty students of a well-known example
 * @see Cox, Journal of the Royal Statistical Society B 20 (1958) 215; Albert and Anderson, Biometrika 71 (1984) 1, for
 * separation (both from memory)
 */
export function fitLogistic(points: readonly BinaryPoint[]): LogisticFit {
  refuseSeparated(points);
  const n = points.length;
  const events = points.filter(({ event }) => event).length;
  // In the middle and of size one: else the first step of values in the thousands overflows.
  const centre = points.reduce((sum, { x }) => sum + x, 0) / n;
  const scale = Math.sqrt(points.reduce((sum, { x }) => sum + (x - centre) ** 2, 0) / n);
  if (!(scale > LEAST_SPREAD * Math.max(Math.abs(centre), 1))) {
    throw new NoStudy(
      "All units leak the same, as far as numbers can tell: add units that leak more and less.",
    );
  }
  const scaled = points.map(({ x, event }) => ({ x: (x - centre) / scale, event }));
  let at: readonly [number, number] = [Math.log(events / (n - events)), 0];
  const nullLogLikelihood = logLikelihoodOf(scaled, ...at);
  let logLikelihood = nullLogLikelihood;
  for (let step = 0; step < MOST_STEPS; step++) {
    const { gradient, information } = derivatives(scaled, ...at);
    const [a, b] = solved(information, gradient);
    let part = 1;
    let next = at;
    let better = Number.NEGATIVE_INFINITY;
    for (; part > 1e-10; part /= 2) {
      next = [at[0] + part * a, at[1] + part * b];
      better = logLikelihoodOf(scaled, ...next);
      if (better >= logLikelihood) break;
    }
    if (!(better >= logLikelihood)) break;
    at = next;
    logLikelihood = better;
    if (Math.hypot(a, b) * part < 1e-13 * (1 + Math.hypot(...at))) break;
  }
  const [aa, ab, bb] = derivatives(scaled, ...at).information;
  const determinant = aa * bb - ab * ab;
  const [varA, varB, covAB] = [bb / determinant, aa / determinant, -ab / determinant];
  const shift = centre / scale;
  const variance = {
    intercept: varA + shift * shift * varB - 2 * shift * covAB,
    slope: varB / scale ** 2,
    both: (covAB - shift * varB) / scale,
  };
  const [intercept, slope] = [at[0] - at[1] * shift, at[1] / scale];
  const isKnown = [intercept, slope, ...Object.values(variance)].every(Number.isFinite);
  if (!isKnown || variance.intercept < 0 || variance.slope < 0) throw notFitted();
  return { intercept, slope, variance, logLikelihood, nullLogLikelihood };
}

/**
 * Where the fit reaches a probability, with a 95 % interval by profile likelihood: the values for which a fit forced
 * through them is not worse than chance allows.
 * @throws NoStudy where the event does not become more probable with the variable, so that no interval is bounded
 */
export function atProbability(
  points: readonly BinaryPoint[],
  fit: LogisticFit,
  probability: number,
): LeakAtProbability {
  const ratio = 2 * (fit.logLikelihood - fit.nullLogLikelihood);
  if (!(fit.slope > 0 && ratio > CHI_SQUARED_95)) {
    throw new NoStudy(
      "In these data more leak does not make a return more probable, or too little to be told from chance (95 %): no limit follows from them. More units, or units that leak more, would show it.",
    );
  }
  const logit = Math.log(probability / (1 - probability));
  const value = (logit - fit.intercept) / fit.slope;
  const { intercept, slope, both } = fit.variance;
  const standardError = Math.sqrt(Math.max(0, intercept + value ** 2 * slope + 2 * value * both)) / fit.slope;
  const worse = (x: number) =>
    2 * (fit.logLikelihood - profile(points, logit, x, fit.slope)) - CHI_SQUARED_95;
  const found = {
    value,
    standardError,
    lower: bound(worse, value, -standardError),
    upper: bound(worse, value, standardError),
  };
  if (Object.values(found).every(Number.isFinite)) return found;
  throw notFitted();
}

function notFitted(): NoStudy {
  return new NoStudy(
    "The leaks in these data differ too little or too widely to be fitted: check their unit.",
  );
}

/** The curve through (x, logit) that fits best, its log-likelihood. */
function profile(points: readonly BinaryPoint[], logit: number, x0: number, start: number): number {
  const offsets = points.map(({ x, event }) => ({ x: x - x0, event }));
  const of = (slope: number) => logLikelihoodOf(offsets, logit, slope);
  let slope = start;
  let best = of(slope);
  for (let step = 0; step < MOST_STEPS; step++) {
    const { gradient, information } = derivatives(offsets, logit, slope);
    const move = gradient[1] / information[2];
    if (!Number.isFinite(move)) break;
    let part = 1;
    while (part > 1e-10 && !(of(slope + part * move) >= best)) part /= 2;
    if (part <= 1e-10) break;
    slope += part * move;
    best = of(slope);
    if (Math.abs(part * move) < 1e-13 * Math.abs(slope)) break;
  }
  return best;
}

/** Where a function that is negative at the start turns positive on one side. */
function bound(worse: (x: number) => number, start: number, step: number): number {
  let [inside, outside] = [start, start + step];
  for (let doubling = 0; doubling < 60 && !(worse(outside) > 0); doubling++) {
    inside = outside;
    outside = start + (outside - start) * 2;
  }
  for (let halving = 0; halving < 80; halving++) {
    const middle = (inside + outside) / 2;
    if (worse(middle) > 0) outside = middle;
    else inside = middle;
  }
  return inside;
}

function logLikelihoodOf(points: readonly BinaryPoint[], intercept: number, slope: number): number {
  // ln(1 + e^z) without overflow; an event has z - ln(1 + e^z), none has -ln(1 + e^z).
  return points.reduce((sum, { x, event }) => {
    const z = intercept + slope * x;
    return sum + (event ? z : 0) - (Math.max(z, 0) + Math.log1p(Math.exp(-Math.abs(z))));
  }, 0);
}

function derivatives(points: readonly BinaryPoint[], intercept: number, slope: number) {
  let [ga, gb, aa, ab, bb] = [0, 0, 0, 0, 0];
  for (const { x, event } of points) {
    const p = 1 / (1 + Math.exp(-(intercept + slope * x)));
    const residual = (event ? 1 : 0) - p;
    const weight = p * (1 - p);
    ga += residual;
    gb += residual * x;
    aa += weight;
    ab += weight * x;
    bb += weight * x * x;
  }
  return { gradient: [ga, gb] as const, information: [aa, ab, bb] as const };
}

function solved(
  [aa, ab, bb]: readonly [number, number, number],
  [ga, gb]: readonly [number, number],
): readonly [number, number] {
  const determinant = aa * bb - ab * ab;
  return [(bb * ga - ab * gb) / determinant, (aa * gb - ab * ga) / determinant];
}

function refuseSeparated(points: readonly BinaryPoint[]): void {
  const of = (event: boolean) => points.filter((point) => point.event === event).map(({ x }) => x);
  const [came, stayed] = [of(true), of(false)];
  if (came.length === 0) {
    throw new NoStudy(
      "No unit was returned: these data set no limit. Leave the limit as it is, and add units that leak more or that came back.",
    );
  }
  if (stayed.length === 0) {
    throw new NoStudy("Every unit was returned: add those that were sold and did not come back.");
  }
  const [leastCame, mostCame] = ends(came);
  const [leastStayed, mostStayed] = ends(stayed);
  if (leastStayed === mostStayed && leastCame === mostCame && leastCame === leastStayed) {
    throw new NoStudy(`Every unit leaks ${leastCame}: add units that leak more and less.`);
  }
  if (mostStayed <= leastCame) {
    throw new NoStudy(
      `All returned units leak ${leastCame} or more, all others ${mostStayed} or less: they lie apart, and no probability can be fitted between. A limit of ${mostStayed} would have kept every return back; units between ${mostStayed} and ${leastCame}, or more units, would tell more.`,
    );
  }
  if (mostCame <= leastStayed) {
    throw new NoStudy(
      `All returned units leak ${mostCame} or less, all others ${leastStayed} or more: whatever brought them back, it was not the leak. Check the column returned (1 came back).`,
    );
  }
}

function ends(values: readonly number[]): readonly [number, number] {
  return values.reduce<readonly [number, number]>(
    ([least, most], value) => [Math.min(least, value), Math.max(most, value)],
    [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY],
  );
}
