import type { GaugeNoise } from "../../../station/measure/fit/gauge-noise.ts";

// Least squares the long way, with whole matrices: what the station's filters and projections are held against.

export type Matrix = readonly (readonly number[])[];

/** Covariance of a gauge's readings at these times. */
export function noiseCovariance(
  t_s: readonly number[],
  { white_Pa, wander_Pa, wanderTau_s }: GaugeNoise,
): Matrix {
  return t_s.map((a, i) =>
    t_s.map(
      (b, j) => wander_Pa ** 2 * Math.exp(-Math.abs(a - b) / wanderTau_s) + (i === j ? white_Pa ** 2 : 0),
    ),
  );
}

/** Lower triangle L of A = L L'. */
export function cholesky(a: Matrix): Matrix {
  const lower: number[][] = [];
  for (const [i, row] of a.entries()) {
    const made: number[] = [];
    for (let j = 0; j <= i; j++) {
      const other = j === i ? made : (lower[j] ?? []);
      let sum = row[j] ?? Number.NaN;
      for (let k = 0; k < j; k++) sum -= (made[k] ?? 0) * (other[k] ?? 0);
      made.push(j === i ? Math.sqrt(sum) : sum / (other[j] ?? Number.NaN));
    }
    lower.push(made);
  }
  return lower;
}

/** x of L x = b. */
export function forwardSolve(lower: Matrix, b: readonly number[]): number[] {
  const x: number[] = [];
  for (const [i, row] of lower.entries()) {
    let sum = b[i] ?? Number.NaN;
    for (let k = 0; k < i; k++) sum -= (row[k] ?? 0) * (x[k] ?? 0);
    x.push(sum / (row[i] ?? Number.NaN));
  }
  return x;
}

export function product(a: readonly number[], b: readonly number[]): number {
  return a.reduce((sum, value, i) => sum + value * (b[i] ?? Number.NaN), 0);
}

/** A positive definite matrix's inverse. */
export function inverse(a: Matrix): Matrix {
  const lower = cholesky(a);
  const columns = a.map((_, i) =>
    forwardSolve(
      lower,
      a.map((__, j) => Number(i === j)),
    ),
  );
  return columns.map((one) => columns.map((other) => product(one, other)));
}

/** X' C^-1 X for columns X and the lower triangle of C. */
export function information(columns: readonly (readonly number[])[], lower: Matrix): Matrix {
  const white = columns.map((column) => forwardSolve(lower, column));
  return white.map((one) => white.map((other) => product(one, other)));
}
