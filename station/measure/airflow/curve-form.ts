import { at, backSolve, dots, orthonormalise } from "../fit/column-algebra.ts";

/**
 * A curve y = sum of c_k x^e_k by its exponents, the first of them 0. Those in use bend one way only where x is above zero,
 * so that Newton's steps find their zero.
 */
export type CurveForm = readonly number[];

export const LINE: CurveForm = [0, 1];
export const PARABOLA: CurveForm = [0, 1, 2];
/** Forms with as many coefficients that go through the same points and bend otherwise. */
export const NEIGHBOURS: ReadonlyMap<CurveForm, readonly CurveForm[]> = new Map([
  [
    LINE,
    [
      [0, 1.5],
      [0, 2],
    ],
  ],
  [PARABOLA, [[0, 1, 3]]],
]);

/** A form with its coefficients. */
export interface FormCurve {
  readonly form: CurveForm;
  readonly coefficients: readonly number[];
}

/**
 * Weighted least squares of a form; goes through all points where they are as many as its coefficients.
 * @param weights one over each point's standard deviation
 * @returns the curve, and how much of itself each point decides (leverage, 0 to 1); null where the points don't decide it
 * @example fitForm([0, 1], [0, 2], [10, 4], [1, 1]) // coefficients 10 and -3
 * @see Golub and Van Loan, Matrix Computations, QR by modified Gram-Schmidt
 */
export function fitForm(
  form: CurveForm,
  x: readonly number[],
  y: readonly number[],
  weights: readonly number[],
): (FormCurve & { readonly leverages: readonly number[] }) | null {
  // Powers of numbers up to one: the columns keep their digits.
  const scale = Math.max(...x.map(Math.abs));
  const columns: Float64Array[] = [];
  const factor: number[][] = [];
  for (const exponent of form) {
    const column = new Float64Array(x.length);
    for (let i = 0; i < x.length; i++) column[i] = at(weights, i) * power(at(x, i) / scale, exponent);
    const parts = orthonormalise(column, columns);
    if (!parts) return null;
    columns.push(column);
    factor.push(parts);
  }
  const weighted = new Float64Array(y.length);
  for (let i = 0; i < y.length; i++) weighted[i] = at(weights, i) * at(y, i);
  const scaled = backSolve(factor, dots(columns, weighted));
  return {
    form,
    coefficients: scaled.map((c, k) => c / scale ** at(form, k)),
    leverages: x.map((_, i) => columns.reduce((sum, column) => sum + (column[i] ?? 0) ** 2, 0)),
  };
}

export function valueAt({ form, coefficients }: FormCurve, x: number): number {
  return form.reduce((sum, exponent, k) => sum + at(coefficients, k) * power(x, exponent), 0);
}

export function slopeAt({ form, coefficients }: FormCurve, x: number): number {
  return form.reduce(
    (sum, exponent, k) =>
      exponent === 0 ? sum : sum + at(coefficients, k) * exponent * power(x, exponent - 1),
    0,
  );
}

/**
 * Where a falling curve comes down to zero.
 * @param from where it falls, and on whose far side zero is looked for first
 * @returns NaN where it turns up again before
 */
export function zeroOf(curve: FormCurve, from: number): number {
  let x = from;
  for (let i = 0; i < 100; i++) {
    const slope = slopeAt(curve, x);
    if (!(slope < 0)) return Number.NaN;
    const next = x - valueAt(curve, x) / slope;
    if (Math.abs(next - x) <= 4 * Number.EPSILON * Math.abs(next)) return next;
    x = next;
  }
  return x;
}

/**
 * Where x times the curve is largest between no x and the curve's zero.
 * @returns the place; NaN where there is no zero
 */
export function largestProductAt({ form, coefficients }: FormCurve, zero: number): number {
  if (!(zero > 0)) return Number.NaN;
  // d(x y)/dx has the same form. Newton's steps stay on one side where they begin on the side it bends away from.
  const derivative = { form, coefficients: coefficients.map((c, k) => c * (1 + at(form, k))) };
  const bendsDown = at(coefficients, coefficients.length - 1) < 0;
  return zeroOf(derivative, bendsDown ? zero : 0);
}

/** A flow gauge's zero may leave a closed inlet a little below no flow, where a broken power is none. */
function power(x: number, exponent: number): number {
  return x < 0 && !Number.isInteger(exponent) ? -((-x) ** exponent) : x ** exponent;
}
