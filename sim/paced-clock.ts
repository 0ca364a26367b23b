import type { Clock } from "../drivers/ports.ts";
import { DEMO_START_ms } from "./virtual-clock.ts";

/**
 * Real time for a simulated station, or a multiple of it, dated as the virtual clock is: the demo's calibration and limit
 * dates hold whatever the day.
 */
export class PacedClock implements Clock {
  readonly #real: Clock;
  readonly #speed: number;
  readonly #start_s: number;
  readonly #pending = new Set<unknown>();
  #isStopped = false;

  /** @param speed seconds that pass here in each real one */
  constructor(real: Clock, speed = 1) {
    this.#real = real;
    this.#speed = speed;
    this.#start_s = real.now_s();
  }

  now_s(): number {
    return this.#start_s + (this.#real.now_s() - this.#start_s) * this.#speed;
  }

  wall_ms(): number {
    return DEMO_START_ms + Math.round((this.now_s() - this.#start_s) * 1000);
  }

  setTimeout(fn: (...args: unknown[]) => void, delay_ms: number): unknown {
    if (this.#isStopped) return undefined;
    const handle = this.#real.setTimeout(() => {
      this.#pending.delete(handle);
      fn();
    }, delay_ms / this.#speed);
    this.#pending.add(handle);
    return handle;
  }

  clearTimeout(handle: unknown): void {
    this.#pending.delete(handle);
    this.#real.clearTimeout(handle);
  }

  /** No timer fires any more: simulated instruments would stream on for ever and keep the program alive. */
  stop(): void {
    this.#isStopped = true;
    for (const handle of this.#pending) this.#real.clearTimeout(handle);
    this.#pending.clear();
  }

  afterArrivals(fn: () => void): void {
    this.#real.afterArrivals(fn);
  }
}
