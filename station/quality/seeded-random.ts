/**
 * Random numbers for resampling, the same in every run: sfc32 (Doty-Humphrey, PractRand, public domain).
 * @example new SeededRandom(1).uniform()
 */
export class SeededRandom {
  #a = 0;
  #b = 0;
  #c: number;
  #count = 1;
  #spare: number | undefined;

  constructor(seed: number) {
    this.#c = seed >>> 0;
    for (let k = 0; k < 15; k++) this.uniform();
  }

  /** Between 0 and 1, neither of them. */
  uniform(): number {
    const sum = (this.#a + this.#b + this.#count) | 0;
    this.#count = (this.#count + 1) | 0;
    this.#a = this.#b ^ (this.#b >>> 9);
    this.#b = (this.#c + (this.#c << 3)) | 0;
    this.#c = (((this.#c << 21) | (this.#c >>> 11)) + sum) | 0;
    return ((sum >>> 0) + 0.5) / 0x1_0000_0000;
  }

  /** Standard normal. @see Marsaglia and Bray, SIAM Review 6 (1964) 260-264, polar method */
  normal(): number {
    if (this.#spare !== undefined) {
      const spare = this.#spare;
      this.#spare = undefined;
      return spare;
    }
    for (;;) {
      const x = 2 * this.uniform() - 1;
      const y = 2 * this.uniform() - 1;
      const square = x * x + y * y;
      if (square >= 1 || square === 0) continue;
      const factor = Math.sqrt((-2 * Math.log(square)) / square);
      this.#spare = y * factor;
      return x * factor;
    }
  }
}
