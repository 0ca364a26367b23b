import { at, backSolve, dot, dots, orthonormalise, solveSymmetric, takeAway } from "./column-algebra.ts";

/** A column of the model whose shape hangs on one nonlinear parameter. */
export interface NonlinearColumn {
  readonly start: number;
  /** What is known of the parameter before the data: normal, with this mean and standard deviation. */
  readonly prior?: { readonly mean: number; readonly deviation: number };
  /** Writes every row of the column, and of its derivative with respect to the parameter; as many rows as the data. */
  fill(parameter: number, column: Float64Array, derivative: Float64Array): void;
}

/** y = sum of linear columns times coefficients + sum of nonlinear columns times amplitudes. */
export interface SeparableModel {
  readonly linear: readonly Float64Array[];
  readonly nonlinear: readonly NonlinearColumn[];
}

export interface SeparableOptions {
  /**
   * Stops where the next step but one, judged by how fast they shrink, would be below this part of the parameters' standard
   * deviations: by the scatter of the residuals or for data of unit variance, whichever is less. The next one is taken
   * along the tangent.
   */
  readonly tolerance?: number;
  readonly mostIterations?: number;
}

export interface SeparableFit {
  /** Coefficients of the linear columns, amplitudes of the nonlinear ones, their parameters; as given in the model. */
  readonly linear: readonly number[];
  readonly amplitudes: readonly number[];
  readonly parameters: readonly number[];
  /** Of linear, amplitudes, parameters in this order, for data of unit variance; priors count as data. */
  readonly covariance: readonly (readonly number[])[];
  readonly residuals: Float64Array;
  /** Sum of the squared residuals, priors left out. */
  readonly squares: number;
  readonly iterations: number;
  readonly converged: boolean;
}

const DEFAULT_TOLERANCE = 1e-8;
const DEFAULT_ITERATIONS = 60;
const FIRST_DAMPING = 1e-3;
/** Damping below the least changes nothing; above the most, no step leads down any more. */
const DAMPING = { least: 1e-7, most: 1e12 };
/** What rounding does to each residual, for data of unit length. */
const ROUNDING = 16 * Number.EPSILON;
/** A derivative that keeps less than this of its square loses too many digits unless the projection is carried out. */
const CANCELS_BELOW = 1e-3;
const DEPENDENT = "The columns of the model depend on each other.";

/**
 * Least squares of a separable model by variable projection: linear coefficients are eliminated by an orthogonal
 * projection at each step, the nonlinear parameters found by Levenberg-Marquardt with Kaufman's Jacobian.
 * Columns and data must be whitened (unit variance, uncorrelated). A normal prior on a linear coefficient is one more
 * row: 1/deviation in its column, mean/deviation in y.
 * @param y data, one row per sample
 * @throws RangeError when columns differ in length, are fewer rows than unknowns, or depend on each other
 * @example fitSeparable(y, { linear: [ones, t], nonlinear: [{ start: 1, fill: (k, e, d) => ... }] }).linear[1] // the slope
 * @see Golub and Pereyra, SIAM J. Numer. Anal. 10 (1973) 413-432; Kaufman, BIT 15 (1975) 49-57; damping: Nielsen, report
 * IMM-REP-1999-05; where to stop: Bates and Watts, Technometrics 23 (1981) 179-183. NIST StRD checks it.
 */
export function fitSeparable(
  y: Float64Array,
  model: SeparableModel,
  { tolerance = DEFAULT_TOLERANCE, mostIterations = DEFAULT_ITERATIONS }: SeparableOptions = {},
): SeparableFit {
  const { nonlinear } = model;
  const fixed = fixedPart(y, model);
  let used = workspace(fixed, nonlinear.length);
  let spare = workspace(fixed, nonlinear.length);
  const start = nonlinear.map((column) => column.start);
  const first = project(fixed, nonlinear, start, used);
  if (!first) throw new RangeError(DEPENDENT);
  let point: Point = first;
  // The largest curvatures seen: where two columns draw near each other theirs fade, and steps would grow without bound.
  let scales = nonlinear.map(() => 0);
  let damping = 0;
  let growth = 2;
  let dampingTried = 0;
  let distanceBefore = 0;
  for (let iterations = 1; iterations <= mostIterations && damping < DAMPING.most; iterations++) {
    const { curvature, cost } = point;
    const downhill = point.gradient.map((value) => -value);
    const toBest = solveSymmetric(curvature, downhill);
    // Squared, in standard deviations for data of unit variance.
    const distance = toBest ? product(toBest, downhill) : Number.POSITIVE_INFINITY;
    const shrinking = distance < distanceBefore ? distance / distanceBefore : 1;
    const isNear = distance * shrinking <= tolerance * tolerance * Math.min(1, (2 * cost) / fixed.degrees);
    // Nearer than this the cost is all rounding, and only the steps tell whether there is more to gain.
    const noise = fixed.rounding * (Math.sqrt(point.squares) + fixed.rounding);
    const isInNoise = distance < 4 * noise;
    const isAtFloor = isInNoise && iterations > 1 && dampingTried === 0 && shrinking > 1 / 16;
    if (toBest && (isNear || isAtFloor)) return answer(fixed, point, iterations, toBest);
    scales = scales.map((scale, j) => Math.max(scale, at(curvature[j] ?? [], j)));
    dampingTried = isInNoise ? 0 : damping;
    const step =
      dampingTried === 0 ? toBest : solveSymmetric(damped(curvature, dampingTried, scales), downhill);
    const next: Point | null = step ? project(fixed, nonlinear, sum(point.parameters, step), spare) : null;
    distanceBefore = distance;
    if (next && next.cost <= cost + noise) {
      const gain = (cost - next.cost) / foreseenGain(step ?? [], downhill, curvature);
      damping *= Math.max(1 / 3, 1 - (2 * gain - 1) ** 3);
      if (damping < DAMPING.least) damping = 0;
      growth = 2;
      point = next;
      [used, spare] = [spare, used];
    } else {
      damping = Math.max(FIRST_DAMPING, damping * growth);
      growth *= 2;
    }
  }
  return answer(fixed, point, mostIterations, null);
}

/** The part of the problem that no parameter changes: orthonormal linear columns, and y without them. */
interface FixedPart {
  readonly n: number;
  readonly units: readonly Float64Array[];
  /** Columns of the triangular factor, each of its own length. */
  readonly factor: readonly (readonly number[])[];
  readonly yParts: readonly number[];
  readonly rest: Float64Array;
  /** Rows, priors counted, less unknowns. */
  readonly degrees: number;
  /** What rounding can do to the cost, per length of the residuals. */
  readonly rounding: number;
}

/** Long arrays that one point fills; two of them take turns through the whole search. */
interface Workspace {
  /** Orthonormal: the fixed ones, then those of the nonlinear columns. */
  readonly units: readonly Float64Array[];
  /** For each nonlinear column, the units before its own. */
  readonly unitsBefore: readonly (readonly Float64Array[])[];
  readonly derivatives: readonly Float64Array[];
  readonly residuals: Float64Array;
}

/** Where the search stands: everything the next step and the answer need. */
interface Point {
  readonly parameters: readonly number[];
  readonly factor: readonly (readonly number[])[];
  readonly coefficients: readonly number[];
  readonly residuals: Float64Array;
  readonly squares: number;
  /** Half the squares, priors included. */
  readonly cost: number;
  readonly gradient: readonly number[];
  /** Gauss-Newton matrix of the parameters, priors included. */
  readonly curvature: readonly (readonly number[])[];
  /** What of each derivative column, times its amplitude, lies along the units. */
  readonly along: readonly (readonly number[])[];
}

function fixedPart(y: Float64Array, { linear, nonlinear }: SeparableModel): FixedPart {
  const n = y.length;
  const unknowns = linear.length + 2 * nonlinear.length;
  if (n < unknowns) throw new RangeError(`A fit of ${unknowns} unknowns got ${n} rows.`);
  const units: Float64Array[] = [];
  const factor: number[][] = [];
  for (const column of linear) {
    if (column.length !== n) throw new RangeError(`A column has ${column.length} rows, the data ${n}.`);
    const unit = Float64Array.from(column);
    const parts = orthonormalise(unit, units);
    if (!parts) throw new RangeError(DEPENDENT);
    units.push(unit);
    factor.push(parts);
  }
  const rest = Float64Array.from(y);
  const yParts = dots(units, rest);
  takeAway(rest, units, yParts);
  const priors = nonlinear.filter(({ prior }) => prior).length;
  return {
    n,
    units,
    factor,
    yParts,
    rest,
    degrees: Math.max(1, n + priors - unknowns),
    rounding: ROUNDING * Math.sqrt(dot(y, y)),
  };
}

function workspace({ n, units: fixed }: FixedPart, columns: number): Workspace {
  const blank = () => Array.from({ length: columns }, () => new Float64Array(n));
  const units = [...fixed, ...blank()];
  return {
    units,
    unitsBefore: Array.from({ length: columns }, (_, j) => units.slice(0, fixed.length + j)),
    derivatives: blank(),
    residuals: new Float64Array(n),
  };
}

/** Everything at these parameters; null where the columns depend on each other there. Overwrites the workspace. */
function project(
  fixed: FixedPart,
  columns: readonly NonlinearColumn[],
  parameters: readonly number[],
  { units, unitsBefore, derivatives, residuals }: Workspace,
): Point | null {
  const m = fixed.units.length;
  const factor = [...fixed.factor];
  const yParts = [...fixed.yParts];
  residuals.set(fixed.rest);
  for (const [j, column] of columns.entries()) {
    const unit = units[m + j] as Float64Array;
    column.fill(at(parameters, j), unit, derivatives[j] as Float64Array);
    const parts = orthonormalise(unit, unitsBefore[j] ?? []);
    if (!parts) return null;
    factor.push(parts);
    const part = dot(unit, residuals);
    takeAway(residuals, [unit], [part]);
    yParts.push(part);
  }
  const coefficients = backSolve(factor, yParts);
  const amplitudes = coefficients.slice(m);
  const { along, across } = splitAlong(derivatives, units);
  const gradient = derivatives.map((derivative, j) => -at(amplitudes, j) * dot(derivative, residuals));
  const curvature = across.map((row, i) =>
    row.map((value, j) => at(amplitudes, i) * at(amplitudes, j) * value),
  );
  const squares = dot(residuals, residuals);
  let cost = squares / 2;
  for (const [j, { prior }] of columns.entries()) {
    if (!prior) continue;
    const weight = 1 / (prior.deviation * prior.deviation);
    const off = at(parameters, j) - prior.mean;
    cost += (weight * off * off) / 2;
    gradient[j] = at(gradient, j) + weight * off;
    const row = curvature[j];
    if (row) row[j] = at(row, j) + weight;
  }
  if (!Number.isFinite(cost)) return null;
  return {
    parameters,
    factor,
    coefficients,
    residuals,
    squares,
    cost,
    gradient,
    curvature,
    along: along.map((parts, j) => parts.map((part) => part * at(amplitudes, j))),
  };
}

/** What of the derivatives lies along the units, and the products of what lies across; takes the former away only if it must. */
function splitAlong(derivatives: readonly Float64Array[], units: readonly Float64Array[]) {
  const along = derivatives.map((derivative) => dots(units, derivative));
  const products = gram(derivatives);
  let across = products.map((row, i) =>
    row.map((value, j) => value - product(along[i] ?? [], along[j] ?? [])),
  );
  const isPoor = across.some((row, j) => !(at(row, j) > CANCELS_BELOW * at(products[j] ?? [], j)));
  // Several may be nearly parallel across the units: then every digit counts.
  if (isPoor || derivatives.length > 1) {
    for (const [j, derivative] of derivatives.entries()) takeAway(derivative, units, along[j] ?? []);
    across = gram(derivatives);
  }
  return { along, across };
}

/** The fit at this point, moved by a last step along the tangent. */
function answer(
  fixed: FixedPart,
  point: Point,
  iterations: number,
  lastStep: readonly number[] | null,
): SeparableFit {
  const { parameters, factor, coefficients, residuals, squares, along } = point;
  // How the coefficients follow the parameters.
  const following = along.map((parts) => backSolve(factor, parts).map((value) => -value));
  const step = lastStep ?? parameters.map(() => 0);
  const moved = coefficients.map((value, a) =>
    following.reduce((to, row, j) => to + at(row, a) * at(step, j), value),
  );
  const linear = fixed.units.length;
  return {
    linear: moved.slice(0, linear),
    amplitudes: moved.slice(linear),
    parameters: sum(parameters, step),
    covariance: covarianceOf(point, following),
    residuals,
    squares,
    iterations,
    converged: lastStep !== null,
  };
}

/** Coefficients first: what the data leave open in them at given parameters, and what follows from the parameters' own. */
function covarianceOf(
  { factor, curvature }: Point,
  following: readonly (readonly number[])[],
): readonly (readonly number[])[] {
  const unitVectors = (size: number) =>
    Array.from({ length: size }, (_, i) => Array.from({ length: size }, (__, j) => Number(i === j)));
  const m = factor.length;
  const k = curvature.length;
  const open = unitVectors(m).map((unit) => [...backSolve(factor, unit), ...new Array<number>(k).fill(0)]);
  const ofParameters = unitVectors(k).map((unit) => solveSymmetric(curvature, unit) ?? []);
  const moves = unitVectors(k).map((unit, j) => [...(following[j] ?? []), ...unit]);
  const entry = (a: number, b: number) => {
    let total = 0;
    for (const column of open) total += at(column, a) * at(column, b);
    for (const [i, left] of moves.entries())
      for (const [j, right] of moves.entries())
        total += at(left, a) * at(ofParameters[i] ?? [], j) * at(right, b);
    return total;
  };
  return Array.from({ length: m + k }, (_, a) => Array.from({ length: m + k }, (__, b) => entry(a, b)));
}

function damped(
  curvature: readonly (readonly number[])[],
  damping: number,
  scales: readonly number[],
): number[][] {
  return curvature.map((row, i) =>
    row.map((value, j) => (i === j ? value + damping * at(scales, j) : value)),
  );
}

/** What the step takes off the cost if the Gauss-Newton matrix is all there is. */
function foreseenGain(
  step: readonly number[],
  downhill: readonly number[],
  curvature: readonly (readonly number[])[],
): number {
  const bent = curvature.map((row) => product(row, step));
  return product(step, downhill) - product(step, bent) / 2;
}

function gram(columns: readonly Float64Array[]): number[][] {
  return columns.map((one) => columns.map((other) => dot(one, other)));
}

function product(a: readonly number[], b: readonly number[]): number {
  return a.reduce((total, value, i) => total + value * at(b, i), 0);
}

function sum(a: readonly number[], b: readonly number[]): number[] {
  return a.map((value, i) => value + at(b, i));
}
