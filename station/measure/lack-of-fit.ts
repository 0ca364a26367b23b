import { normalCdf } from "../../limits/normal.ts";

export interface LackOfFit {
  /** Standard deviation of the whitened residuals from one to the next; 1 when the noise is as calibrated. */
  readonly noiseRatio: number;
  /** Chance that residuals as patterned as these come from a model that is right. */
  readonly probability: number;
}

const MOST_BLOCKS = 20;
const LEAST_IN_BLOCK = 10;
/** Constant, slope and, in part, the rest of the model have been fitted to the block means. */
const FITTED = 3;

/**
 * Tests whitened residuals for pattern: the means of up to 20 blocks in a row, squared against the noise seen between
 * neighbours, are chi-squared when only noise is left. What was fitted against what was known of it counts with them.
 * @param residuals whitened, in order of time
 * @param offCalibration parameters' distances from the calibration, in its standard deviations
 * @see von Neumann, Ann. Math. Stat. 12 (1941) 367-395 for the noise from differences; chi-squared tail by Wilson and
 * Hilferty, PNAS 17 (1931) 684-688
 */
export function lackOfFit(residuals: Float64Array, offCalibration: readonly number[]): LackOfFit {
  const n = residuals.length;
  let differences = 0;
  for (let i = 1; i < n; i++) differences += ((residuals[i] as number) - (residuals[i - 1] as number)) ** 2;
  const noiseRatio = Math.sqrt(differences / (2 * (n - 1)));
  const blocks = Math.max(FITTED + 1, Math.min(MOST_BLOCKS, Math.floor(n / LEAST_IN_BLOCK)));
  let squares = 0;
  for (let block = 0; block < blocks; block++) {
    const from = Math.floor((block * n) / blocks);
    const to = Math.floor(((block + 1) * n) / blocks);
    let sum = 0;
    for (let i = from; i < to; i++) sum += residuals[i] as number;
    squares += (sum * sum) / (to - from);
  }
  const patterned = squares / Math.max(1, noiseRatio * noiseRatio);
  const off = offCalibration.reduce((sum, distance) => sum + distance * distance, 0);
  const probability = Math.min(
    chiSquaredTail(patterned, blocks - FITTED),
    offCalibration.length === 0 ? 1 : chiSquaredTail(off, offCalibration.length),
  );
  return { noiseRatio, probability };
}

/** Chance of a chi-squared value above x. */
export function chiSquaredTail(x: number, degrees: number): number {
  const spread = 2 / (9 * degrees);
  return normalCdf((1 - spread - Math.cbrt(x / degrees)) / Math.sqrt(spread));
}
