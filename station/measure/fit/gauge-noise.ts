import { fillDecay } from "./exponential.ts";

/**
 * Noise of a pressure gauge: white from reading to reading, and a wandering part that forgets with a time constant
 * (first-order autoregression in continuous time). Standard deviations.
 */
export interface GaugeNoise {
  readonly white_Pa: number;
  readonly wander_Pa: number;
  readonly wanderTau_s: number;
}

/** Turns columns that belong to the samples at some times into columns with noise of unit variance, uncorrelated. */
export class Whitener {
  /** What is expected of the next sample: these parts of what was expected of this one, and of what it was. */
  readonly #ofExpected: Float64Array;
  readonly #ofSample: Float64Array;
  readonly #perDeviation: Float64Array;

  /**
   * @param t_s times of the samples, rising, any spacing
   * @throws RangeError for noise that is not positive, or times that do not rise
   * @see Kalman filter of a first-order autoregression seen through white noise; Brockwell and Davis, Time Series:
   * Theory and Methods, ch. 12 (from memory)
   */
  constructor(t_s: ArrayLike<number>, noise: GaugeNoise) {
    const { white_Pa, wander_Pa, wanderTau_s } = noise;
    if (!(white_Pa > 0 && wander_Pa >= 0 && wanderTau_s > 0)) {
      throw new RangeError("The gauge's noise must be more than nothing.");
    }
    const n = t_s.length;
    const ofExpected = new Float64Array(n);
    const ofSample = new Float64Array(n);
    const perDeviation = new Float64Array(n);
    const keeps = keepsToNext(t_s, wanderTau_s);
    const white = white_Pa * white_Pa;
    const wander = wander_Pa * wander_Pa;
    let variance = wander + white;
    for (let i = 0; i < n; i++) {
      const perVariance = 1 / variance;
      const gain = 1 - white * perVariance;
      const keep = keeps[i] as number;
      const kept = keep * keep;
      perDeviation[i] = Math.sqrt(perVariance);
      ofExpected[i] = keep * (1 - gain);
      ofSample[i] = keep * gain;
      // The filter's variance recursion in its shortest form: each step waits for one division only.
      variance = white + wander + kept * (white - wander) - (kept * white * white) / variance;
    }
    this.#ofExpected = ofExpected;
    this.#ofSample = ofSample;
    this.#perDeviation = perDeviation;
  }

  /** Sum of the logarithms of the innovations' variances: what the likelihood of the noise needs. */
  get logVariances(): number {
    return this.#perDeviation.reduce((sum, perDeviation) => sum - 2 * Math.log(perDeviation), 0);
  }

  /** Whitens a column in place; rows beyond the samples (priors) stay as they are. */
  apply(column: Float64Array): void {
    const ofExpected = this.#ofExpected;
    const ofSample = this.#ofSample;
    const perDeviation = this.#perDeviation;
    let expected = 0;
    for (let i = 0; i < perDeviation.length; i++) {
      const sample = column[i] as number;
      column[i] = (sample - expected) * (perDeviation[i] as number);
      expected = (ofExpected[i] as number) * expected + (ofSample[i] as number) * sample;
    }
  }

  /** Whitens two columns in place, in hardly more time than one: each step waits for the step before. */
  applyToBoth(one: Float64Array, other: Float64Array): void {
    const ofExpected = this.#ofExpected;
    const ofSample = this.#ofSample;
    const perDeviation = this.#perDeviation;
    let expectedOne = 0;
    let expectedOther = 0;
    for (let i = 0; i < perDeviation.length; i++) {
      const a = one[i] as number;
      const b = other[i] as number;
      const keep = ofExpected[i] as number;
      const take = ofSample[i] as number;
      const scale = perDeviation[i] as number;
      one[i] = (a - expectedOne) * scale;
      other[i] = (b - expectedOther) * scale;
      expectedOne = keep * expectedOne + take * a;
      expectedOther = keep * expectedOther + take * b;
    }
  }
}

/** What the wandering part keeps of itself from each sample to the next; 0 for the last. */
function keepsToNext(t_s: ArrayLike<number>, wanderTau_s: number): Float64Array {
  const n = t_s.length;
  const elapsed_s = new Float64Array(n).fill(Number.POSITIVE_INFINITY);
  for (let i = 0; i + 1 < n; i++) {
    const step_s = (t_s[i + 1] as number) - (t_s[i] as number);
    if (!(step_s > 0)) throw new RangeError("The times of the samples must rise.");
    elapsed_s[i] = step_s;
  }
  const keeps = new Float64Array(n);
  fillDecay(elapsed_s, 1 / wanderTau_s, keeps);
  return keeps;
}

/** Residuals of a curve that was fitted well, with their times. */
export interface NoiseSample {
  readonly t_s: ArrayLike<number>;
  readonly residual_Pa: ArrayLike<number>;
}

/** Wandering against white, and its time constant, that the search begins from and stays within. */
const RATIOS = { least: 1e-3, most: 30 };
const LEAST_SPACINGS = 2;
const SEARCH = { firstStep: 1, lastStep: 0.02 };

/**
 * The noise that makes these residuals most likely: white part, wandering part and its time constant.
 * @param samples one entry per curve, pooled; 100 residuals or more in all
 * @throws RangeError on fewer, or on residuals that are all zero
 * @see maximum likelihood by the innovations form, as Whitener's; pattern search over two ratios, the scale in closed form
 */
export function estimateNoise(samples: readonly NoiseSample[]): GaugeNoise {
  const count = samples.reduce((sum, { residual_Pa }) => sum + residual_Pa.length, 0);
  if (count < 100) throw new RangeError(`The noise of a gauge needs 100 readings or more, got ${count}.`);
  const spacing_s = Math.max(...samples.map(({ t_s }) => span_s(t_s) / Math.max(1, t_s.length - 1)));
  const longest_s = Math.max(...samples.map(({ t_s }) => span_s(t_s)));
  const bounds = [
    [Math.log(RATIOS.least), Math.log(RATIOS.most)],
    [Math.log(LEAST_SPACINGS * spacing_s), Math.log(Math.max(longest_s / 4, 4 * spacing_s))],
  ] as const;
  const score = (logRatio: number, logTau: number) => scaled(samples, Math.exp(logRatio), Math.exp(logTau));
  let best = {
    x: [Math.log(0.3), (bounds[1][0] + bounds[1][1]) / 2] as [number, number],
    found: score(Math.log(0.3), (bounds[1][0] + bounds[1][1]) / 2),
  };
  for (let step: number = SEARCH.firstStep; step > SEARCH.lastStep; ) {
    let isBetter = false;
    for (const [dx, dy] of [
      [step, 0],
      [-step, 0],
      [0, step],
      [0, -step],
    ] as const) {
      const x: [number, number] = [clamp(best.x[0] + dx, bounds[0]), clamp(best.x[1] + dy, bounds[1])];
      const found = score(...x);
      if (found.cost < best.found.cost - 1e-9) {
        best = { x, found };
        isBetter = true;
      }
    }
    if (!isBetter) step /= 2;
  }
  const white_Pa = best.found.scale_Pa;
  if (!(white_Pa > 0)) throw new RangeError("The residuals show no noise at all.");
  return { white_Pa, wander_Pa: white_Pa * Math.exp(best.x[0]), wanderTau_s: Math.exp(best.x[1]) };
}

/** Minus twice the log likelihood, with the most likely scale for this shape of noise. */
function scaled(
  samples: readonly NoiseSample[],
  ratio: number,
  wanderTau_s: number,
): { readonly cost: number; readonly scale_Pa: number } {
  let squares = 0;
  let logs = 0;
  let n = 0;
  for (const { t_s, residual_Pa } of samples) {
    const whitener = new Whitener(t_s, { white_Pa: 1, wander_Pa: ratio, wanderTau_s });
    const column = Float64Array.from(residual_Pa);
    whitener.apply(column);
    for (const value of column) squares += value * value;
    logs += whitener.logVariances;
    n += column.length;
  }
  return { cost: n * Math.log(squares / n) + logs, scale_Pa: Math.sqrt(squares / n) };
}

function span_s(t_s: ArrayLike<number>): number {
  return (t_s[t_s.length - 1] ?? 0) - (t_s[0] ?? 0);
}

function clamp(value: number, [low, high]: readonly [number, number]): number {
  return Math.min(high, Math.max(low, value));
}
