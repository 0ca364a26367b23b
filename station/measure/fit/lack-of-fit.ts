import { chiSquaredTail } from "./chi-squared.ts";

export interface LackOfFit {
  /** Standard deviation of the whitened residuals from one to the next; 1 when the noise is as calibrated. */
  readonly noiseRatio: number;
  /** Chance that a right model leaves residuals as patterned as these, or parameters as far from the calibration. */
  readonly probability: number;
}

const MOST_BLOCKS = 20;
const LEAST_IN_BLOCK = 10;

/**
 * Tests whitened residuals for pattern: the means of up to 20 blocks in a row, squared against the noise seen between
 * neighbours, are chi-squared when only noise is left. What was fitted against what was known of it is tested beside them.
 * @param residuals whitened, in order of time
 * @param offCalibration parameters' distances from the calibration, in its standard deviations
 * @param fitted unknowns that the residuals decided: 1 each, less for one that the calibration decided in part
 * @see von Neumann, Ann. Math. Stat. 12 (1941) 367-395 for the noise from differences
 */
export function lackOfFit(
  residuals: Float64Array,
  offCalibration: readonly number[],
  fitted: number,
): LackOfFit {
  const n = residuals.length;
  let differences = 0;
  for (let i = 1; i < n; i++) differences += ((residuals[i] as number) - (residuals[i - 1] as number)) ** 2;
  const noiseRatio = Math.sqrt(differences / (2 * (n - 1)));
  const blocks = Math.max(Math.ceil(fitted) + 1, Math.min(MOST_BLOCKS, Math.floor(n / LEAST_IN_BLOCK)));
  let squares = 0;
  for (let block = 0; block < blocks; block++) {
    const from = Math.floor((block * n) / blocks);
    const to = Math.floor(((block + 1) * n) / blocks);
    let sum = 0;
    for (let i = from; i < to; i++) sum += residuals[i] as number;
    squares += (sum * sum) / (to - from);
  }
  const patterned = squares / Math.max(1, noiseRatio * noiseRatio);
  const chances = [chiSquaredTail(patterned, blocks - fitted)];
  if (offCalibration.length > 0) {
    const off = offCalibration.reduce((sum, distance) => sum + distance * distance, 0);
    chances.push(chiSquaredTail(off, offCalibration.length));
  }
  // The smaller of several chances is itself small more often.
  return { noiseRatio, probability: -Math.expm1(chances.length * Math.log1p(-Math.min(...chances))) };
}
