import { normalCdf } from "../../../limits/normal.ts";

/** Average numbers of values up to and with the one that signals, of independent normal values with a known deviation. */
export interface RunLengths {
  /** From a chart that has just begun. */
  readonly zeroState: number;
  /** Of a shift that comes when the chart has stood for long without a signal. */
  readonly steadyState: number;
}

/** States that stand for a sum or an average between its bounds; twice as many change a run length by less than 0.2 %. */
const STATES = 121;

/**
 * Average run lengths of a two-sided tabular CUSUM, both sums from zero.
 * @param k allowance, in standard deviations
 * @param h decision interval, in standard deviations
 * @param shift of the mean, in standard deviations
 * @throws RangeError for k below 0, h not above 0
 * @see D. Brook and D. A. Evans, An approach to the probability distribution of CUSUM run length, Biometrika 59 (1972) 539-549; two
 * sides from one-sided ones: 1/ARL = 1/ARL+ + 1/ARL- (Montgomery, equation 9.7; van Dobben de Bruyn 1968; from memory)
 * @example cusumRunLengths({ k: 0.5, h: 5, shift: 1 }).zeroState // 10.4
 */
export function cusumRunLengths(chart: {
  readonly k: number;
  readonly h: number;
  readonly shift: number;
}): RunLengths {
  const { k, h, shift } = chart;
  if (!(k >= 0 && h > 0 && Number.isFinite(k + h + shift)))
    throw new RangeError(`A CUSUM with k ${k} and h ${h} has no run lengths.`);
  const [up, down] = [oneSided(k, h, shift), oneSided(k, h, -shift)];
  const together = (a: number, b: number) => 1 / (1 / a + 1 / b);
  return {
    zeroState: together(up.zeroState, down.zeroState),
    steadyState: together(up.steadyState, down.steadyState),
  };
}

/** The upper sum alone, in as many equal steps from zero. */
function oneSided(k: number, h: number, shift: number): RunLengths {
  const width = (2 * h) / (2 * STATES - 1);
  const chain = (mean: number) => {
    // Only how far it is from one state to the other matters.
    const upTo = Array.from({ length: 2 * STATES }, (_, steps) =>
      normalCdf((steps - STATES + 0.5) * width + k - mean),
    );
    const below = (steps: number) => upTo[steps + STATES] ?? 0;
    // The lowest state takes all that would go below zero.
    return matrix((from, to) => (to === 0 ? below(-from) : below(to - from) - below(to - from - 1)));
  };
  const lengths = lengthsOf(chain(shift));
  return { zeroState: lengths[0] ?? 0, steadyState: meanOver(settledIn(chain(0)), lengths) };
}

/**
 * Average run lengths of an EWMA with the limits of the long run.
 * @param lambda weight of the newest value
 * @param width of the limits, in standard deviations of the average
 * @throws RangeError for a lambda outside 0 to 1, a width not above 0
 * @see J. M. Lucas and M. S. Saccucci, Exponentially weighted moving average control schemes, Technometrics 32 (1990) 1-12
 * @example ewmaRunLengths({ lambda: 0.1, width: 2.814, shift: 1 }).zeroState // 10.3
 */
export function ewmaRunLengths(chart: {
  readonly lambda: number;
  readonly width: number;
  readonly shift: number;
}): RunLengths {
  const { lambda, width, shift } = chart;
  if (!(lambda > 0 && lambda <= 1 && width > 0 && Number.isFinite(width + shift)))
    throw new RangeError(`An EWMA with lambda ${lambda} and limits at ${width} has no run lengths.`);
  const limit = width * Math.sqrt(lambda / (2 - lambda));
  const step = (2 * limit) / STATES;
  const middle = (state: number) => -limit + (state + 0.5) * step;
  const chain = (mean: number) =>
    matrix((from, to) => {
      const needed = (edge: number) => (edge - (1 - lambda) * middle(from)) / lambda - mean;
      return normalCdf(needed(middle(to) + step / 2)) - normalCdf(needed(middle(to) - step / 2));
    });
  const lengths = lengthsOf(chain(shift));
  return {
    zeroState: lengths[(STATES - 1) / 2] ?? 0,
    steadyState: meanOver(settledIn(chain(0)), lengths),
  };
}

function matrix(probability: (from: number, to: number) => number): number[][] {
  return Array.from({ length: STATES }, (_, from) =>
    Array.from({ length: STATES }, (__, to) => probability(from, to)),
  );
}

/** Solves (I - Q) L = 1 by elimination; every row keeps less than it gives away, so that no pivot is needed. */
function lengthsOf(chain: readonly (readonly number[])[]): number[] {
  const rows = chain.map((row, i) => [...row.map((it, j) => (i === j ? 1 : 0) - it), 1]);
  for (const [i, pivot] of rows.entries()) {
    for (const row of rows.slice(i + 1)) {
      const factor = (row[i] ?? 0) / (pivot[i] ?? 1);
      if (factor === 0) continue;
      for (let j = i; j <= STATES; j++) row[j] = (row[j] ?? 0) - factor * (pivot[j] ?? 0);
    }
  }
  const lengths = new Array<number>(STATES).fill(0);
  for (let i = STATES - 1; i >= 0; i--) {
    const row = rows[i] ?? [];
    let rest = row[STATES] ?? 0;
    for (let j = i + 1; j < STATES; j++) rest -= (row[j] ?? 0) * (lengths[j] ?? 0);
    lengths[i] = rest / (row[i] ?? 1);
  }
  return lengths;
}

/** How often a chart that has not signalled for long stands in each state. */
function settledIn(chain: readonly (readonly number[])[]): number[] {
  let now = new Array<number>(STATES).fill(1 / STATES);
  for (let round = 0; round < 2000; round++) {
    const next = new Array<number>(STATES).fill(0);
    for (const [from, row] of chain.entries())
      for (let to = 0; to < STATES; to++) next[to] = (next[to] ?? 0) + (now[from] ?? 0) * (row[to] ?? 0);
    const all = next.reduce((sum, it) => sum + it, 0);
    const settled = next.map((it) => it / all);
    const change = settled.reduce((most, it, i) => Math.max(most, Math.abs(it - (now[i] ?? 0))), 0);
    now = settled;
    if (change < 1e-7) break;
  }
  return now;
}

function meanOver(weights: readonly number[], lengths: readonly number[]): number {
  return weights.reduce((sum, weight, i) => sum + weight * (lengths[i] ?? 0), 0);
}
