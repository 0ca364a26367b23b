// Long columns and small triangles, as least squares needs them. The long loops take four rows at a time, with a sum for
// each: one sum would have every addition wait for the one before, and costs three times as much.

/** A column that keeps less than this of its square is projected once more: "twice is enough" (Kahan). */
const REPROJECT_BELOW = 1e-3;
/** A column that keeps less than this of its square depends on the others. */
const DEPENDENT_BELOW = 1e-30;

/** Sum of products. */
export function dot(a: Float64Array, b: Float64Array): number {
  const n = a.length;
  const even = n - (n % 4);
  let s0 = 0;
  let s1 = 0;
  let s2 = 0;
  let s3 = 0;
  for (let i = 0; i < even; i += 4) {
    s0 += (a[i] as number) * (b[i] as number);
    s1 += (a[i + 1] as number) * (b[i + 1] as number);
    s2 += (a[i + 2] as number) * (b[i + 2] as number);
    s3 += (a[i + 3] as number) * (b[i + 3] as number);
  }
  for (let i = even; i < n; i++) s0 += (a[i] as number) * (b[i] as number);
  return s0 + s1 + (s2 + s3);
}

/** Products of one column with each of several. */
export function dots(columns: readonly Float64Array[], x: Float64Array): number[] {
  return columns.map((column) => dot(column, x));
}

/** Takes these parts of several columns away from one; returns what is left of its square. */
export function takeAway(
  x: Float64Array,
  columns: readonly Float64Array[],
  parts: readonly number[],
): number {
  let square = Number.NaN;
  for (const [j, column] of columns.entries()) square = takeOneAway(x, column, at(parts, j));
  return columns.length === 0 ? dot(x, x) : square;
}

function takeOneAway(x: Float64Array, column: Float64Array, part: number): number {
  const n = x.length;
  const even = n - (n % 4);
  let s0 = 0;
  let s1 = 0;
  let s2 = 0;
  let s3 = 0;
  for (let i = 0; i < even; i += 4) {
    const a = (x[i] as number) - part * (column[i] as number);
    const b = (x[i + 1] as number) - part * (column[i + 1] as number);
    const c = (x[i + 2] as number) - part * (column[i + 2] as number);
    const d = (x[i + 3] as number) - part * (column[i + 3] as number);
    x[i] = a;
    x[i + 1] = b;
    x[i + 2] = c;
    x[i + 3] = d;
    s0 += a * a;
    s1 += b * b;
    s2 += c * c;
    s3 += d * d;
  }
  for (let i = even; i < n; i++) {
    const a = (x[i] as number) - part * (column[i] as number);
    x[i] = a;
    s0 += a * a;
  }
  return s0 + s1 + (s2 + s3);
}

/**
 * Makes the column a unit vector across the others, which are unit vectors across each other.
 * @returns its column of the triangular factor; null where the column depends on the others or is not finite
 */
export function orthonormalise(column: Float64Array, others: readonly Float64Array[]): number[] | null {
  const before = dot(column, column);
  const parts = dots(others, column);
  let after = takeAway(column, others, parts);
  if (after < REPROJECT_BELOW * before) {
    const more = dots(others, column);
    after = takeAway(column, others, more);
    for (const [i, part] of more.entries()) parts[i] = at(parts, i) + part;
  }
  if (!(after > DEPENDENT_BELOW * before)) return null;
  const length = Math.sqrt(after);
  const perLength = 1 / length;
  for (let i = 0; i < column.length; i++) column[i] = (column[i] as number) * perLength;
  parts.push(length);
  return parts;
}

/** x of R x = b, R upper triangular, given by its columns. */
export function backSolve(factor: readonly (readonly number[])[], b: readonly number[]): number[] {
  const x = [...b];
  for (let i = x.length - 1; i >= 0; i--) {
    const column = factor[i] ?? [];
    const value = at(x, i) / at(column, i);
    x[i] = value;
    for (let j = 0; j < i; j++) x[j] = at(x, j) - value * at(column, j);
  }
  return x;
}

/** x of A x = b, A symmetric; null where A is not positive definite. */
export function solveSymmetric(a: readonly (readonly number[])[], b: readonly number[]): number[] | null {
  const lower = cholesky(a);
  if (!lower) return null;
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

function cholesky(a: readonly (readonly number[])[]): number[][] | null {
  const lower: number[][] = [];
  for (const [i, row] of a.entries()) {
    const made: number[] = [];
    for (let j = 0; j <= i; j++) {
      const other = j === i ? made : (lower[j] ?? []);
      let sum = at(row, j);
      for (let k = 0; k < j; k++) sum -= at(made, k) * at(other, k);
      if (j === i && !(sum > 0)) return null;
      made.push(j === i ? Math.sqrt(sum) : sum / at(other, j));
    }
    lower.push(made);
  }
  return lower;
}

/** A value that must be there; NaN makes a slip show in the result. */
export function at(values: readonly number[], i: number): number {
  return values[i] ?? Number.NaN;
}
