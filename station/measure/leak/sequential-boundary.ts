import { normalCdf, normalQuantile } from "../../../limits/normal.ts";

/** Risk that may have been spent by a clock reading of 0..1: never falls, and is at most the whole risk. */
export type Spending = (risk: number, clock: number) => number;

/** Part of the risk that the look at clock 0 may spend, about what each of 20 looks would get. */
const FIRST_SHARE = 0.05;

/**
 * A share at once, then nearly evenly, a little more in the first looks: Pocock-type, because an early verdict is there to
 * let clear units go as soon as they are clear. (O'Brien-Fleming-type spending keeps nearly all for the end, where
 * measuring ends anyway.) The share at clock 0 is there because the shortest measuring time could else decide nothing.
 * Simulated decision times with u falling as t^-1.5 to t^-2.5 change by less than 1 % between this, straight-line
 * spending, and first shares of 0 to 0.1.
 * @see Lan and DeMets, Biometrika 70 (1983) 659-663: risk ln(1 + (e - 1) t)
 */
function spendFromTheStart(risk: number, clock: number): number {
  return risk * (FIRST_SHARE + (1 - FIRST_SHARE) * Math.log1p((Math.E - 1) * clock));
}

/** A look with less than this more information than the last (correlation above 0.995) is no new look. */
const LEAST_GROWTH = 0.01;
/** Less than this is not worth a boundary (it would be above 7.3); it stays for the next look. */
const LEAST_SPENT = 1e-13;
/** Farther down a path has no part in any crossing worth counting: 3e-7 of all paths. */
const LOWEST_Z = -5;
/** Grid step over the width of the narrowest Gaussian on it; the trapezoidal rule errs by 2 exp(-2 pi^2 / 1.3^2) = 2e-5. */
const STEP_OVER_WIDTH = 1.3;
/** Grid steps drawn together below the boundary; the last ends exp(-10) of a step from it. */
const CLUSTERED_STEPS = 10;
/** Kernels beyond this many standard deviations are nought beside LEAST_SPENT. */
const KERNEL_REACH = 9;

/** Paths that have not crossed, as point masses at values of Z, highest first. */
interface Paths {
  readonly z: Float64Array;
  readonly mass: Float64Array;
}

/** From one look to the next Z' = keep Z + spread N(0, 1): independent increments. */
interface Passage {
  readonly keep: number;
  readonly spread: number;
}

interface UsedLook extends Passage {
  readonly information: number;
  readonly before: Paths;
  readonly boundary: number;
}

const START: Paths = { z: Float64Array.of(0), mass: Float64Array.of(1) };

/**
 * One-sided boundary for repeated looks at an estimate: the Z to reach at each look, such that a true value exactly at the
 * limit reaches it at any look so far with the probability that the spending function allows by then.
 *
 * The estimates must have the covariance of a growing least-squares fit, Cov(q_i, q_j) = u_j^2 for i <= j; a systematic
 * component that is the same at all looks keeps this. Z is then a Brownian motion seen at information 1/u^2, and the
 * density of the paths that have not crossed is carried from look to look by numerical integration. The looks need not
 * be planned, but whether and when they come, and their uncertainties, must not depend on the estimates: so spending goes
 * by the clock. A look that is never told leaves its share to the next.
 *
 * @see Armitage, McPherson and Rowe, J. R. Statist. Soc. A 132 (1969) 235-244, the recursion; Lan and DeMets, Biometrika 70
 * (1983) 659-663, spending, and Statistics in Medicine 8 (1989) 1191-1198, spending by the clock; Jennison and Turnbull,
 * Group Sequential Methods (2000), ch. 19, the integration
 * @example new SequentialBoundary(0.025, (risk) => risk).next(1, 1) // 1.959964: a single look
 */
export class SequentialBoundary {
  readonly #risk: number;
  readonly #spending: Spending;
  #last: UsedLook | undefined;
  #seen = 0;
  #allowed = 0;
  #spent = 0;

  /**
   * @param risk probability of a crossing at any look at all, 0 (never) to below 0.5
   * @throws RangeError on any other risk
   */
  constructor(risk: number, spending: Spending = spendFromTheStart) {
    if (!(risk >= 0 && risk < 0.5)) throw new RangeError(`A risk is 0 to below 0.5, got ${risk}.`);
    this.#risk = risk;
    this.#spending = spending;
  }

  /** Probability, for a true value at the limit, of a crossing at any look so far. */
  get spent(): number {
    return this.#spent;
  }

  /**
   * @param standardUncertainty of the estimate at this look, in the estimate's unit
   * @param clock elapsed part of the time, 0..1
   * @returns the Z to reach at this look, above 0; Infinity where it may not stop: there is nothing to spend yet, or the look
   * has hardly more information than the last or less (what it may have spent is kept for the next), or the uncertainty is
   * not a positive number (as a skipped look)
   */
  next(standardUncertainty: number, clock: number): number {
    const information = standardUncertainty ** -2;
    if (!(information > 0 && Number.isFinite(information))) {
      this.skip(clock);
      return Number.POSITIVE_INFINITY;
    }
    this.#allowed = Math.min(this.#risk, this.#allowed + this.#advance(clock)); // a sum of parts can round above the whole
    const spend = this.#allowed - this.#spent;
    const known = this.#last?.information ?? 0;
    if (spend < LEAST_SPENT || information < known * (1 + LEAST_GROWTH)) return Number.POSITIVE_INFINITY;

    const passage: Passage = {
      keep: Math.sqrt(known / information),
      spread: Math.sqrt((information - known) / information),
    };
    const before = this.#last === undefined ? START : pathsBelow(this.#last, passage);
    const boundary = boundaryFor(spend, before, passage);
    this.#last = { ...passage, information, before, boundary };
    this.#spent = this.#allowed;
    return boundary;
  }

  /**
   * Tells of a look that could not be used. Its share of the risk lapses: where the model did not fit just before, the next
   * look is not the one to take a large step at.
   */
  skip(clock: number): void {
    this.#advance(clock);
  }

  /** @returns what the clock has set free since it was last told */
  #advance(clock: number): number {
    const allowed = Math.min(this.#risk, this.#spending(this.#risk, Math.min(Math.max(clock, 0), 1)));
    if (!(allowed > this.#seen)) return 0;
    const more = allowed - this.#seen;
    this.#seen = allowed;
    return more;
  }
}

/**
 * The paths that stayed below a look's boundary, on a grid fine enough for the kernels on both its sides: tabulated only
 * when the next look is known, since two looks close together need a much finer grid.
 * The grid z = b - step ln(1 + exp x) at whole x is even far below the boundary and draws together at it, so that the
 * plain trapezoidal rule has no end to err at.
 */
function pathsBelow(look: UsedLook, next: Passage): Paths {
  const { keep, spread, before, boundary } = look;
  const width = 1 / Math.sqrt(1 + (keep / spread) ** 2 + (next.keep / next.spread) ** 2);
  const step = STEP_OVER_WIDTH * width;
  const points = CLUSTERED_STEPS + 1 + Math.ceil((boundary - LOWEST_Z) / step);
  const z = new Float64Array(points);
  const mass = new Float64Array(points);
  let first = 0;
  for (let j = 0; j < points; j++) {
    const grown = Math.exp(j - CLUSTERED_STEPS);
    const at = boundary - step * Math.log1p(grown);
    while (first < before.z.length && keep * valueAt(before.z, first) - at > KERNEL_REACH * spread) first++;
    let sum = 0;
    for (let i = first; i < before.z.length; i++) {
      const away = (at - keep * valueAt(before.z, i)) / spread;
      if (away > KERNEL_REACH) break;
      sum += valueAt(before.mass, i) * Math.exp(-0.5 * away * away);
    }
    z[j] = at;
    mass[j] = (sum / (spread * Math.sqrt(2 * Math.PI))) * step * (grown / (1 + grown));
  }
  return { z, mass };
}

/**
 * The boundary that the given probability of paths reaches. Newton's method on the logarithm of the tail, which is concave
 * (so is every truncated and smoothed normal), started above the answer: it comes down without overshooting.
 */
function boundaryFor(spend: number, before: Paths, { keep, spread }: Passage): number {
  const single = -normalQuantile(spend);
  let boundary = Math.min(single, keep * valueAt(before.z, 0) + spread * single);
  for (let turn = 0; turn < 50; turn++) {
    let tail = 0;
    let density = 0;
    for (let i = 0; i < before.z.length; i++) {
      const away = (boundary - keep * valueAt(before.z, i)) / spread;
      if (away > KERNEL_REACH) break;
      tail += valueAt(before.mass, i) * normalCdf(-away);
      density += valueAt(before.mass, i) * Math.exp(-0.5 * away * away);
    }
    density /= spread * Math.sqrt(2 * Math.PI);
    const change = (tail / density) * Math.log(tail / spend);
    boundary += change;
    if (Math.abs(change) < 1e-4) break;
  }
  return boundary;
}

function valueAt(values: Float64Array, i: number): number {
  return values[i] as number;
}
