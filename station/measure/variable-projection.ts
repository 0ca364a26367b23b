/** A column of the model whose shape hangs on one nonlinear parameter. */
export interface NonlinearColumn {
  readonly start: number;
  /** What is known of the parameter before the data: normal, with this mean and standard deviation. */
  readonly prior?: { readonly mean: number; readonly deviation: number };
  /** Writes the column and its derivative with respect to the parameter, as many rows as the data. */
  fill(parameter: number, column: Float64Array, derivative: Float64Array): void;
}

/** y = sum of linear columns times coefficients + sum of nonlinear columns times amplitudes. */
export interface SeparableModel {
  readonly linear: readonly Float64Array[];
  readonly nonlinear: readonly NonlinearColumn[];
}

export interface SeparableOptions {
  /** Stops when no parameter would move by more than this part of its standard deviation (for data of unit variance). */
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

const DEFAULT_TOLERANCE = 1e-7;
const DEFAULT_ITERATIONS = 60;
/** Below this change of a parameter, relative to its size, arithmetic has no more to give. */
const FINEST_STEP = 1e-14;
/** A column that keeps less than this of its square in the projection is projected once more ("twice is enough"). */
const REPROJECT_BELOW = 1e-3;

/**
 * Least squares of a separable model by variable projection: linear coefficients are eliminated by an orthogonal
 * projection at each step, the nonlinear parameters found by Levenberg-Marquardt with Kaufman's Jacobian.
 * Columns and data must be whitened (unit variance, uncorrelated). A normal prior on a linear coefficient is one more
 * row: 1/deviation in its column, mean/deviation in y.
 * @param y data, one row per sample
 * @throws RangeError when columns differ in length, are fewer rows than unknowns, or depend on each other
 * @example fitSeparable(y, { linear: [ones, t], nonlinear: [{ start: 1, fill: (k, e, d) => ... }] }).linear[1] // the slope
 * @see Golub and Pereyra, SIAM J. Numer. Anal. 10 (1973) 413-432; Kaufman, BIT 15 (1975) 49-57; NIST StRD checks it
 */
export function fitSeparable(
  y: Float64Array,
  model: SeparableModel,
  { tolerance = DEFAULT_TOLERANCE, mostIterations = DEFAULT_ITERATIONS }: SeparableOptions = {},
): SeparableFit {
  const { nonlinear } = model;
  const basis = fixedBasis(y, model);
  let point = projectAt(
    basis,
    nonlinear,
    nonlinear.map(({ start }) => start),
  );
  let damping = 0;
  let iterations = 0;
  let converged = false;
  while (iterations < mostIterations) {
    iterations++;
    const step = stepFrom(point, damping);
    if (isNegligible(point, step, tolerance)) {
      converged = true;
      break;
    }
    const next = projectAt(
      basis,
      nonlinear,
      point.parameters.map((parameter, j) => parameter + at(step, j)),
    );
    if (next.cost < point.cost) {
      point = next;
      damping = damping < 1e-6 ? 0 : damping / 10;
    } else if (
      next.cost <= point.cost * (1 + 1e-15) &&
      Math.abs(next.cost - point.cost) <= 1e-15 * point.cost
    ) {
      converged = true;
      break;
    } else {
      damping = damping === 0 ? 1e-3 : damping * 10;
      if (damping > 1e12) break;
    }
  }
  return finished(basis, point, { iterations, converged });
}

/** The part of the problem that no parameter changes: orthonormal linear columns, and y without them. */
interface FixedBasis {
  readonly n: number;
  readonly vectors: readonly Float64Array[];
  /** Columns of the triangular factor, each of its own length. */
  readonly factor: readonly (readonly number[])[];
  readonly yParts: readonly number[];
  readonly rest: Float64Array;
}

/** Where the search stands: everything the next step and the answer need. */
interface Point {
  readonly parameters: readonly number[];
  readonly amplitudes: readonly number[];
  readonly vectors: readonly Float64Array[];
  readonly factor: readonly (readonly number[])[];
  readonly yParts: readonly number[];
  readonly residuals: Float64Array;
  readonly squares: number;
  /** Half the squares, priors included. */
  readonly cost: number;
  readonly gradient: readonly number[];
  /** Gauss-Newton matrix of the parameters, priors included. */
  readonly curvature: readonly (readonly number[])[];
  /** What of each derivative column, times its amplitude, lies along the basis. */
  readonly along: readonly (readonly number[])[];
}

function fixedBasis(y: Float64Array, { linear, nonlinear }: SeparableModel): FixedBasis {
  const n = y.length;
  if (n < linear.length + 2 * nonlinear.length) {
    throw new RangeError(`A fit of ${linear.length + 2 * nonlinear.length} unknowns got ${n} rows.`);
  }
  const vectors: Float64Array[] = [];
  const factor: number[][] = [];
  const yParts: number[] = [];
  const rest = Float64Array.from(y);
  for (const column of linear) {
    if (column.length !== n) throw new RangeError(`A column has ${column.length} rows, the data ${n}.`);
    const vector = Float64Array.from(column);
    factor.push(orthonormalise(vector, vectors));
    vectors.push(vector);
    yParts.push(removeAlong(rest, vector));
  }
  return { n, vectors, factor, yParts, rest };
}

function projectAt(
  basis: FixedBasis,
  columns: readonly NonlinearColumn[],
  parameters: readonly number[],
): Point {
  const { n } = basis;
  const vectors = [...basis.vectors];
  const factor = [...basis.factor];
  const yParts = [...basis.yParts];
  const residuals = Float64Array.from(basis.rest);
  const derivatives: Float64Array[] = [];
  for (const [j, column] of columns.entries()) {
    const vector = new Float64Array(n);
    const derivative = new Float64Array(n);
    column.fill(at(parameters, j), vector, derivative);
    factor.push(orthonormalise(vector, vectors));
    vectors.push(vector);
    yParts.push(removeAlong(residuals, vector));
    derivatives.push(derivative);
  }
  const amplitudes = backSolve(factor, yParts).slice(basis.vectors.length);
  const along: number[][] = [];
  const gradient: number[] = [];
  for (const [j, derivative] of derivatives.entries()) {
    scale(derivative, at(amplitudes, j));
    gradient.push(-dot(derivative, residuals));
    along.push(vectors.map((vector) => removeAlong(derivative, vector)));
  }
  const curvature = derivatives.map((one) => derivatives.map((other) => dot(one, other)));
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
  return {
    parameters,
    amplitudes,
    vectors,
    factor,
    yParts,
    residuals,
    squares,
    cost,
    gradient,
    curvature,
    along,
  };
}

function stepFrom({ curvature, gradient }: Point, damping: number): number[] {
  const damped = curvature.map((row, i) => row.map((value, j) => (i === j ? value * (1 + damping) : value)));
  return solveSymmetric(
    damped,
    gradient.map((value) => -value),
  );
}

function isNegligible({ parameters, curvature }: Point, step: readonly number[], tolerance: number): boolean {
  return step.every((move, j) => {
    const deviation = 1 / Math.sqrt(at(curvature[j] ?? [], j));
    return (
      Math.abs(move) <= tolerance * deviation || Math.abs(move) <= FINEST_STEP * Math.abs(at(parameters, j))
    );
  });
}

function finished(
  basis: FixedBasis,
  point: Point,
  { iterations, converged }: { iterations: number; converged: boolean },
): SeparableFit {
  const { factor, yParts, parameters, residuals, squares, curvature, along } = point;
  const coefficients = backSolve(factor, yParts);
  const m = coefficients.length;
  const k = parameters.length;
  const ofParameters = invertSymmetric(curvature);
  // How the coefficients follow the parameters, and what the data alone leave open in them.
  const following = along.map((parts) => backSolve(factor, parts).map((value) => -value));
  const unitColumns = coefficients.map((_, i) =>
    backSolve(
      factor,
      coefficients.map((__, j) => (i === j ? 1 : 0)),
    ),
  );
  const covariance = Array.from({ length: m + k }, () => new Array<number>(m + k).fill(0));
  for (let a = 0; a < m + k; a++) {
    for (let b = 0; b < m + k; b++) {
      let sum =
        a < m && b < m ? unitColumns.reduce((total, column) => total + at(column, a) * at(column, b), 0) : 0;
      for (let i = 0; i < k; i++) {
        for (let j = 0; j < k; j++) {
          const left = a < m ? at(following[i] ?? [], a) : Number(a - m === i);
          const right = b < m ? at(following[j] ?? [], b) : Number(b - m === j);
          sum += left * at(ofParameters[i] ?? [], j) * right;
        }
      }
      const row = covariance[a];
      if (row) row[b] = sum;
    }
  }
  const fixed = basis.vectors.length;
  return {
    linear: coefficients.slice(0, fixed),
    amplitudes: coefficients.slice(fixed),
    parameters,
    covariance,
    residuals,
    squares,
    iterations,
    converged,
  };
}

/** Makes the column a unit vector across the others; returns its column of the triangular factor. */
function orthonormalise(column: Float64Array, others: readonly Float64Array[]): number[] {
  const before = dot(column, column);
  const parts = others.map((other) => removeAlong(column, other));
  let after = dot(column, column);
  if (after < REPROJECT_BELOW * before) {
    for (const [i, other] of others.entries()) parts[i] = at(parts, i) + removeAlong(column, other);
    after = dot(column, column);
  }
  if (!(after > 1e-30 * before)) throw new RangeError("The columns of the model depend on each other.");
  const length = Math.sqrt(after);
  scale(column, 1 / length);
  return [...parts, length];
}

/** Takes away the part along a unit vector and returns it. */
function removeAlong(column: Float64Array, unit: Float64Array): number {
  const part = dot(unit, column);
  for (let i = 0; i < column.length; i++) column[i] = (column[i] as number) - part * (unit[i] as number);
  return part;
}

/** Four sums side by side: one would wait for each addition before the next. */
function dot(a: Float64Array, b: Float64Array): number {
  const n = a.length;
  const even = n - (n % 4);
  let [s0, s1, s2, s3] = [0, 0, 0, 0];
  for (let i = 0; i < even; i += 4) {
    s0 += (a[i] as number) * (b[i] as number);
    s1 += (a[i + 1] as number) * (b[i + 1] as number);
    s2 += (a[i + 2] as number) * (b[i + 2] as number);
    s3 += (a[i + 3] as number) * (b[i + 3] as number);
  }
  for (let i = even; i < n; i++) s0 += (a[i] as number) * (b[i] as number);
  return s0 + s1 + (s2 + s3);
}

function scale(column: Float64Array, by: number): void {
  for (let i = 0; i < column.length; i++) column[i] = (column[i] as number) * by;
}

/** x of R x = b, R given by its columns. */
function backSolve(factor: readonly (readonly number[])[], b: readonly number[]): number[] {
  const x = [...b];
  for (let i = x.length - 1; i >= 0; i--) {
    const column = factor[i] ?? [];
    const value = at(x, i) / at(column, i);
    x[i] = value;
    for (let j = 0; j < i; j++) x[j] = at(x, j) - value * at(column, j);
  }
  return x;
}

/** x of A x = b, A symmetric and positive definite. @throws RangeError when it is not */
function solveSymmetric(a: readonly (readonly number[])[], b: readonly number[]): number[] {
  const lower = cholesky(a);
  const x = [...b];
  for (let i = 0; i < x.length; i++) {
    const row = lower[i] ?? [];
    for (let j = 0; j < i; j++) x[i] = at(x, i) - at(row, j) * at(x, j);
    x[i] = at(x, i) / at(row, i);
  }
  for (let i = x.length - 1; i >= 0; i--) {
    for (let j = i + 1; j < x.length; j++) x[i] = at(x, i) - at(lower[j] ?? [], i) * at(x, j);
    x[i] = at(x, i) / at(lower[i] ?? [], i);
  }
  return x;
}

function invertSymmetric(a: readonly (readonly number[])[]): number[][] {
  return a.map((_, i) =>
    solveSymmetric(
      a,
      a.map((__, j) => Number(i === j)),
    ),
  );
}

function cholesky(a: readonly (readonly number[])[]): number[][] {
  const lower: number[][] = [];
  for (const [i, row] of a.entries()) {
    const made: number[] = [];
    for (let j = 0; j <= i; j++) {
      const other = j === i ? made : (lower[j] ?? []);
      let sum = at(row, j);
      for (let k = 0; k < j; k++) sum -= at(made, k) * at(other, k);
      made.push(j === i ? Math.sqrt(Math.max(sum, Number.MIN_VALUE)) : sum / at(other, j));
    }
    lower.push(made);
  }
  return lower;
}

function at(values: readonly number[], i: number): number {
  return values[i] ?? Number.NaN;
}
