/** dy/dt into `out`, from y at time t_s. */
export type Derivative = (t_s: number, y: Float64Array, out: Float64Array) => void;

export interface IntegratorOptions {
  /** Largest acceptable error of one step, in units of `errorOf`. */
  readonly tolerance: number;
  readonly longestStep_s: number;
  /** Size of a step's error, given the state it is about. */
  readonly errorOf: (error: Float64Array, y: Float64Array) => number;
}

/**
 * Ordinary differential equations in time order: steps as long as the accuracy allows, and the state at any time
 * between by cubic Hermite interpolation, so that whoever samples does not change the path.
 * @see Bogacki and Shampine, Appl. Math. Lett. 2 (1989) 321-325: the 3(2) pair
 */
export class Integrator {
  readonly #derivative: Derivative;
  readonly #options: IntegratorOptions;
  #from_s: number;
  #to_s: number;
  #step_s: number;
  #evaluations = 0;
  #yFrom: Float64Array;
  #kFrom: Float64Array;
  #yTo: Float64Array;
  #kTo: Float64Array;
  readonly #k2: Float64Array;
  readonly #k3: Float64Array;
  readonly #trial: Float64Array;
  readonly #error: Float64Array;

  constructor(t_s: number, y: ArrayLike<number>, derivative: Derivative, options: IntegratorOptions) {
    this.#derivative = derivative;
    this.#options = options;
    this.#from_s = t_s;
    this.#to_s = t_s;
    this.#step_s = FIRST_STEP_s;
    const size = y.length;
    this.#yFrom = Float64Array.from(y);
    this.#yTo = Float64Array.from(y);
    this.#kFrom = new Float64Array(size);
    this.#kTo = new Float64Array(size);
    this.#k2 = new Float64Array(size);
    this.#k3 = new Float64Array(size);
    this.#trial = new Float64Array(size);
    this.#error = new Float64Array(size);
    this.#derivative(t_s, this.#yTo, this.#kTo);
  }

  /** Derivative evaluations so far: what the arithmetic costs. */
  get evaluations(): number {
    return this.#evaluations;
  }

  /** The state at t_s, into `out`. Time may not go back before the last restart or the step in hand. */
  stateAt(t_s: number, out: Float64Array): void {
    while (t_s > this.#to_s) this.#advance();
    const length_s = this.#to_s - this.#from_s;
    if (length_s === 0 || t_s >= this.#to_s) {
      out.set(this.#yTo);
      return;
    }
    const x = Math.max(0, (t_s - this.#from_s) / length_s);
    const rest = 1 - x;
    const wFrom = (1 + 2 * x) * rest * rest;
    const wTo = x * x * (3 - 2 * x);
    const wSlopeFrom = x * rest * rest * length_s;
    const wSlopeTo = -x * x * rest * length_s;
    for (let i = 0; i < out.length; i++) {
      out[i] =
        wFrom * at(this.#yFrom, i) +
        wTo * at(this.#yTo, i) +
        wSlopeFrom * at(this.#kFrom, i) +
        wSlopeTo * at(this.#kTo, i);
    }
  }

  /** Starts afresh from this state: something changed at t_s (a valve), and the step in hand is void. */
  restart(t_s: number, y: Float64Array): void {
    this.#from_s = t_s;
    this.#to_s = t_s;
    this.#step_s = FIRST_STEP_s;
    this.#yFrom.set(y);
    this.#yTo.set(y);
    this.#derivative(t_s, this.#yTo, this.#kTo);
  }

  #advance(): void {
    [this.#yFrom, this.#yTo] = [this.#yTo, this.#yFrom];
    [this.#kFrom, this.#kTo] = [this.#kTo, this.#kFrom];
    this.#from_s = this.#to_s;
    const { tolerance, longestStep_s, errorOf } = this.#options;
    for (;;) {
      const h = Math.min(this.#step_s, longestStep_s);
      this.#tryStep(h);
      const error = errorOf(this.#error, this.#yTo) / tolerance;
      const factor = error === 0 ? 5 : Number.isFinite(error) ? 0.9 * error ** (-1 / 3) : 0.2;
      this.#step_s = h * Math.min(5, Math.max(0.2, factor));
      if (error <= 1 || h <= SHORTEST_STEP_s) {
        this.#to_s = this.#from_s + h;
        return;
      }
    }
  }

  #tryStep(h: number): void {
    const y = this.#yFrom;
    const k1 = this.#kFrom;
    const trial = this.#trial;
    const size = y.length;
    for (let i = 0; i < size; i++) trial[i] = at(y, i) + (h / 2) * at(k1, i);
    this.#derivative(this.#from_s + h / 2, trial, this.#k2);
    for (let i = 0; i < size; i++) trial[i] = at(y, i) + ((3 * h) / 4) * at(this.#k2, i);
    this.#derivative(this.#from_s + (3 * h) / 4, trial, this.#k3);
    for (let i = 0; i < size; i++) {
      this.#yTo[i] = at(y, i) + (h / 9) * (2 * at(k1, i) + 3 * at(this.#k2, i) + 4 * at(this.#k3, i));
    }
    this.#derivative(this.#from_s + h, this.#yTo, this.#kTo);
    for (let i = 0; i < size; i++) {
      this.#error[i] =
        h * ((-5 / 72) * at(k1, i) + at(this.#k2, i) / 12 + at(this.#k3, i) / 9 - at(this.#kTo, i) / 8);
    }
    this.#evaluations += 3;
  }
}

const FIRST_STEP_s = 0.002;
const SHORTEST_STEP_s = 1e-6;

function at(array: Float64Array, index: number): number {
  return array[index] ?? Number.NaN;
}
