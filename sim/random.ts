import { createHash } from "node:crypto";

/**
 * Seeded random numbers: xoshiro128** 1.1 (Blackman and Vigna, prng.di.unimi.it), 32 bits at a time.
 * Streams are found by name, so that what one draws never depends on what another has drawn.
 */
export class RandomStream {
  #a: number;
  #b: number;
  #c: number;
  #d: number;
  #spareNormal: number | undefined;

  /** @param state four 32-bit words, not all zero */
  constructor(state: readonly [number, number, number, number]) {
    [this.#a, this.#b, this.#c, this.#d] = state;
    if ((this.#a | this.#b | this.#c | this.#d) === 0)
      throw new RangeError("xoshiro128** cannot start from zero");
  }

  /** The next 32 bits, 0 to 2^32 - 1. */
  nextUint32(): number {
    const scrambled = Math.imul(rotateLeft(Math.imul(this.#b, 5), 7), 9);
    const shifted = this.#b << 9;
    this.#c ^= this.#a;
    this.#d ^= this.#b;
    this.#b ^= this.#c;
    this.#a ^= this.#d;
    this.#c ^= shifted;
    this.#d = rotateLeft(this.#d, 11);
    return scrambled >>> 0;
  }

  /** Uniform in [0, 1), 32 bits of it. */
  uniform(): number {
    return this.nextUint32() / 0x1_0000_0000;
  }

  /** Uniform in [low, high). */
  between(low: number, high: number): number {
    return low + (high - low) * this.uniform();
  }

  /** True with this probability. */
  chance(probability: number): boolean {
    return this.uniform() < probability;
  }

  /** One of them, each equally likely. @throws RangeError on an empty list */
  pick<T>(choices: readonly T[]): T {
    const chosen = choices[Math.floor(this.uniform() * choices.length)];
    if (chosen === undefined) throw new RangeError("nothing to pick from");
    return chosen;
  }

  /** Standard normal deviate. @see Marsaglia and Bray, SIAM Review 6 (1964) 260-264, polar method */
  normal(): number {
    if (this.#spareNormal !== undefined) {
      const spare = this.#spareNormal;
      this.#spareNormal = undefined;
      return spare;
    }
    for (;;) {
      const x = 2 * this.uniform() - 1;
      const y = 2 * this.uniform() - 1;
      const square = x * x + y * y;
      if (square >= 1 || square === 0) continue;
      const factor = Math.sqrt((-2 * Math.log(square)) / square);
      this.#spareNormal = y * factor;
      return x * factor;
    }
  }

  /** Normal with this standard deviation, redrawn until within `bound` standard deviations of zero. */
  boundedNormal(standardDeviation: number, bound: number): number {
    for (;;) {
      const deviate = this.normal();
      if (Math.abs(deviate) <= bound) return deviate * standardDeviation;
    }
  }

  /** Log-normal: the median and the standard deviation of the natural logarithm. */
  logNormal(median: number, sigma: number): number {
    return median * Math.exp(sigma * this.normal());
  }
}

/** The stream of this seed and name; state from SHA-256, so that near names are as different as far ones. */
export function randomStream(seed: number, name: string): RandomStream {
  const digest = createHash("sha256").update(`${seed}/${name}`).digest();
  return new RandomStream([
    digest.readUInt32LE(0),
    digest.readUInt32LE(4),
    digest.readUInt32LE(8),
    digest.readUInt32LE(12),
  ]);
}

function rotateLeft(word: number, bits: number): number {
  return (word << bits) | (word >>> (32 - bits));
}
