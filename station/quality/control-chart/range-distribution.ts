import { normalCdf } from "../../../limits/normal.ts";

/** Beyond it a normal density no longer counts in double precision, even for the largest of many. */
const REACH = 9;
/** Smooth integrands that fade away at both ends: the trapezoidal rule's error falls off as exp(-const / step). */
const STEP = 0.075;
const POINTS = 2 * Math.round(REACH / STEP) + 1;
/**
 * The moments' integral over w > 0 goes over t with w = exp(t - exp(-t)), which fades doubly exponentially at both ends. The
 * distribution of many values' range rises steeply, and wants finer steps.
 */
const [T_LOWEST, T_HIGHEST] = [-3.7, Math.log(2 * REACH)];
const MANY = 50;
const stepFor = (n: number) => (n <= MANY ? 0.06 : 0.015);
/** The highest n whose results were held against integration by other means. */
export const LARGEST_SUBGROUP = 10_000;

/**
 * Probability that the range of n independent standard normal values (largest less smallest) is at most w.
 * @param w in standard deviations
 * @param n whole, 2 to 10,000
 * @throws RangeError for another n
 * @see Tippett 1925, Biometrika 17, 364-387: n times the integral of phi(x) (Phi(x + w) - Phi(x))^(n - 1); here by the
 * trapezoidal rule, to 1e-12
 * @example rangeCdf(3.685, 5) // 0.93, as tables of the studentized range with infinite degrees of freedom have it
 */
export function rangeCdf(w: number, n: number): number {
  checked(n);
  if (!(w > 0)) return Number.isNaN(w) ? Number.NaN : 0;
  return w > 2 * REACH + 2 ? 1 : weighted(gaps(w), n);
}

/**
 * Mean and standard deviation of the range of n independent standard normal values: d2 and d3.
 * @param n whole, 2 to 10,000
 * @throws RangeError for another n
 * @see Tippett 1925: moments of the range from its distribution, E(W^k) being the integral of k w^(k - 1) (1 - F(w))
 * @example rangeMoments(5) // { d2: 2.32592895, d3: 0.86408194 }
 */
export function rangeMoments(n: number): { readonly d2: number; readonly d3: number } {
  checked(n);
  const known = MOMENTS.get(n);
  if (known) return known;
  const step = stepFor(n);
  let mean = 0;
  let square = 0;
  for (const { w, slope, gaps: between } of gapTable(step)) {
    const above = (1 - weighted(between, n)) * slope * step;
    mean += above;
    square += 2 * w * above;
  }
  const found = { d2: mean, d3: Math.sqrt(square - mean * mean) };
  MOMENTS.set(n, found);
  return found;
}

const MOMENTS = new Map<number, { readonly d2: number; readonly d3: number }>();

/** The trapezoidal sum for one w. */
function weighted(between: Float64Array, n: number): number {
  const weights = densities();
  let sum = 0;
  for (let i = 0; i < POINTS; i++) sum += (weights[i] ?? 0) * (between[i] ?? 0) ** (n - 1);
  return Math.min(1, n * sum);
}

let densityTable: Float64Array | undefined;
function densities(): Float64Array {
  densityTable ??= Float64Array.from(
    { length: POINTS },
    (_, i) => (STEP / Math.sqrt(2 * Math.PI)) * Math.exp(-0.5 * at(i) ** 2),
  );
  return densityTable;
}

let below: Float64Array | undefined;
/** Phi(x + w) - Phi(x) at each point. */
function gaps(w: number): Float64Array {
  below ??= Float64Array.from({ length: POINTS }, (_, i) => normalCdf(at(i)));
  const start = below;
  // Where both are near 1, from the far side: the small difference of two numbers near 1 would be noise.
  return start.map((value, i) =>
    at(i) > 0 ? normalCdf(-at(i)) - normalCdf(-at(i) - w) : normalCdf(at(i) + w) - value,
  );
}

interface Node {
  readonly w: number;
  /** dw/dt */
  readonly slope: number;
  readonly gaps: Float64Array;
}

const TABLES = new Map<number, readonly Node[]>();

/** The same for all n, and most of the work. */
function gapTable(step: number): readonly Node[] {
  const known = TABLES.get(step);
  if (known) return known;
  const nodes: Node[] = [];
  for (let t = T_LOWEST; t <= T_HIGHEST; t += step) {
    const w = Math.exp(t - Math.exp(-t));
    nodes.push({ w, slope: w * (1 + Math.exp(-t)), gaps: gaps(w) });
  }
  TABLES.set(step, nodes);
  return nodes;
}

function at(i: number): number {
  return -REACH + i * STEP;
}

function checked(n: number): void {
  if (Number.isInteger(n) && n >= 2 && n <= LARGEST_SUBGROUP) return;
  throw new RangeError(
    `A range of ${n} values has no distribution here: give a whole number from 2 to ${LARGEST_SUBGROUP}.`,
  );
}
