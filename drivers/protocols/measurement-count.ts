import type { ModbusCounter } from "../modbus-profile.ts";
import { DriverError, type GaugeMemory } from "../ports.ts";
import { printSeconds } from "../raw-line.ts";

/** Follows an instrument's count of its measurements over one connection; without a counter all are new. */
export class MeasurementCount {
  readonly #instrument: string;
  readonly #counter: ModbusCounter | undefined;
  #last: number | undefined;
  #changed_s = 0;
  #read_s = Number.NEGATIVE_INFINITY;

  constructor(instrument: string, counter: ModbusCounter | undefined) {
    this.#instrument = instrument;
    this.#counter = counter;
  }

  /**
   * @param count as just read
   * @param at_s when it came
   * @returns whether this measurement has not been seen before
   * @throws DriverError OUT_OF_SEQUENCE when the count goes back, or stands still for longer than it may
   */
  isNew(count: number | undefined, at_s: number): boolean {
    if (!this.#counter || count === undefined) return true;
    const { place, staleAfter_s } = this.#counter;
    const last = this.#last;
    // While nobody looked it may have gone round, and its standing still would not have been seen.
    const wasWatched = at_s - this.#read_s <= staleAfter_s;
    this.#read_s = at_s;
    if (count !== last) {
      const modulus = place.type === "uint32" ? 2 ** 32 : 2 ** 16;
      // Far ahead is behind: the instrument started anew, or another one answers.
      if (wasWatched && last !== undefined && (count - last + modulus) % modulus > modulus / 2)
        throw this.#outOfSequence(
          `its count of measurements went back from ${last} to ${count}: it started anew; check its supply`,
        );
      this.#last = count;
      this.#changed_s = at_s;
      return true;
    }
    if (!wasWatched) this.#changed_s = at_s;
    if (at_s - this.#changed_s > staleAfter_s) throw this.stoodStill(staleAfter_s);
    return false;
  }

  stoodStill(staleAfter_s: number): DriverError {
    return this.#outOfSequence(
      `its count of measurements has stood still at ${this.#last} for ${printSeconds(staleAfter_s)}: it measures nothing new; check its sensor and its state`,
    );
  }

  memory(): GaugeMemory {
    return this.#last === undefined
      ? {}
      : { count: this.#last, changed_s: this.#changed_s, read_s: this.#read_s };
  }

  resume({ count, changed_s, read_s }: GaugeMemory): void {
    this.#last = count;
    this.#changed_s = changed_s ?? 0;
    this.#read_s = read_s ?? Number.NEGATIVE_INFINITY;
  }

  #outOfSequence(what: string): DriverError {
    return new DriverError("OUT_OF_SEQUENCE", this.#instrument, `${this.#instrument}: ${what}.`);
  }
}
