import type { Clock } from "../drivers/ports.ts";
import { DEMO_START_ms } from "./virtual-clock.ts";

/**
 * Real time for a simulated station, dated as the virtual clock is: the demo's calibration and limit dates hold
 * whatever the day.
 */
export class PacedClock implements Clock {
  readonly #real: Clock;
  readonly #start_s: number;

  constructor(real: Clock) {
    this.#real = real;
    this.#start_s = real.now_s();
  }

  now_s(): number {
    return this.#real.now_s();
  }

  wall_ms(): number {
    return DEMO_START_ms + Math.round((this.#real.now_s() - this.#start_s) * 1000);
  }

  setTimeout(fn: (...args: unknown[]) => void, delay_ms: number): unknown {
    return this.#real.setTimeout(fn, delay_ms);
  }

  clearTimeout(handle: unknown): void {
    this.#real.clearTimeout(handle);
  }

  afterArrivals(fn: () => void): void {
    this.#real.afterArrivals(fn);
  }
}
