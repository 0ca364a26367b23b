import type { RandomStream } from "../random.ts";

/** How a sensor departs from the truth; in the unit it shows, except relative parts. */
export interface SensorTraits {
  /** Standard deviations of white noise: absolute, and relative to the value. */
  readonly white: number;
  readonly whiteRelative?: number;
  /** Wandering noise: standard deviation, and the time over which it forgets. */
  readonly correlated?: number;
  readonly correlationTau_s?: number;
  /** First-order lag. */
  readonly lag_s: number;
  readonly resolution: number;
  /** Largest error of zero and of slope; each sensor has its own within them. */
  readonly zeroError: number;
  readonly slopeError: number;
}

/** One sensor: lags, wanders, is a little wrong, and rounds. */
export class Sensor {
  readonly #traits: SensorTraits;
  readonly #random: RandomStream;
  readonly #zero: number;
  readonly #slope: number;
  #read_s = Number.NEGATIVE_INFINITY;
  #followed = 0;
  #wandering = 0;

  constructor(traits: SensorTraits, random: RandomStream) {
    this.#traits = traits;
    this.#random = random;
    this.#zero = random.between(-traits.zeroError, traits.zeroError);
    this.#slope = 1 + random.between(-traits.slopeError, traits.slopeError);
  }

  /** What it shows at t_s when this is true; times must not go back. */
  read(t_s: number, truth: number): number {
    const {
      white,
      whiteRelative = 0,
      correlated = 0,
      correlationTau_s = 1,
      lag_s,
      resolution,
    } = this.#traits;
    // Two ways to work out the same moment may differ by a rounding.
    const elapsed_s = Math.max(0, t_s - this.#read_s);
    this.#read_s = t_s;
    const keeps = lag_s > 0 ? Math.exp(-elapsed_s / lag_s) : 0;
    this.#followed = truth + (this.#followed - truth) * keeps;
    if (correlated > 0) {
      const remembers = Math.exp(-elapsed_s / correlationTau_s);
      const fresh = correlated * Math.sqrt(1 - remembers * remembers) * this.#random.normal();
      this.#wandering = this.#wandering * remembers + fresh;
    }
    const spread = white + whiteRelative * Math.abs(this.#followed);
    const shown =
      this.#followed * this.#slope + this.#zero + this.#wandering + spread * this.#random.normal();
    return Math.round(shown / resolution) * resolution;
  }
}
