import { hasStoodStill } from "../fit/standstill.ts";
import { LEAST_READINGS, type Trend, trendOf } from "./trend.ts";

/** A run of equal readings this long, by number and by time, is not mistaken for a gauge that repeats itself by chance. */
const SUSPECT = { readings: 8, time_s: 0.3 };
/** The readings of one channel since a command, in order of time. */
export class ChannelSeries {
  readonly #t_s: number[] = [];
  readonly #values: number[] = [];
  #equalFrom = 0;

  get newest(): number | undefined {
    return this.#values.at(-1);
  }

  /** Number of newest readings in a row that are so. */
  rowOf(holds: (value: number) => boolean): number {
    let row = 0;
    while (row < this.#values.length && holds(this.#values[this.#values.length - 1 - row] as number)) row++;
    return row;
  }

  /** Whether there are so many newest readings that are all so. */
  endsIn(count: number, holds: (value: number) => boolean): boolean {
    const { length } = this.#values;
    if (length < count) return false;
    for (let k = length - count; k < length; k++) if (!holds(this.#values[k] as number)) return false;
    return true;
  }

  /** The newest readings, so many or all that there are. */
  last(count: number): readonly number[] {
    return this.#values.slice(-count);
  }

  add(t_s: number, value: number): void {
    if (value !== this.newest) this.#equalFrom = this.#values.length;
    this.#t_s.push(t_s);
    this.#values.push(value);
  }

  /** Readings from this time on, that one included. */
  since(from_s: number): { readonly t_s: readonly number[]; readonly values: readonly number[] } {
    let first = this.#t_s.length;
    // Times that were worked out in two ways may differ by a rounding.
    while (first > 0 && (this.#t_s[first - 1] as number) >= from_s - 1e-6) first--;
    return { t_s: this.#t_s.slice(first), values: this.#values.slice(first) };
  }

  /** @returns null where the readings since then are too few */
  trendSince(from_s: number): Trend | null {
    const { t_s, values } = this.since(from_s);
    if (t_s.length < LEAST_READINGS || !((t_s.at(-1) ?? 0) > (t_s[0] ?? 0))) return null;
    return trendOf(t_s, values);
  }

  /** Whether the newest readings are all the same, too many to rest anything on them yet. */
  get standsStill(): boolean {
    return this.#values.length - this.#equalFrom >= SUSPECT.readings && this.#equal_s >= SUSPECT.time_s;
  }

  /** Whether the gauge has stood still for so long now, and its other readings say that this is not chance. */
  hasFrozenFor(time_s: number): boolean {
    return this.standsStill && this.#equal_s >= time_s && hasStoodStill(this.#values);
  }

  get #equal_s(): number {
    return (this.#t_s.at(-1) ?? 0) - (this.#t_s[this.#equalFrom] ?? 0);
  }
}
