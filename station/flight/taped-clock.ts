import type { Clock } from "../../drivers/ports.ts";
import type { TapeEvent } from "./tape-event.ts";

/** A clock of which everything it tells is told on. */
export class TapedClock implements Clock {
  readonly #clock: Clock;
  readonly #tell: (event: TapeEvent) => void;

  constructor(clock: Clock, tell: (event: TapeEvent) => void) {
    this.#clock = clock;
    this.#tell = tell;
  }

  now_s(): number {
    const t_s = this.#clock.now_s();
    this.#tell({ kind: "now", t_s });
    return t_s;
  }

  wall_ms(): number {
    const wall_ms = this.#clock.wall_ms();
    this.#tell({ kind: "wall", t_s: this.#clock.now_s(), wall_ms });
    return wall_ms;
  }

  setTimeout(fn: (...args: unknown[]) => void, delay_ms: number): unknown {
    return this.#clock.setTimeout(() => {
      this.#tell({ kind: "timer", t_s: this.#clock.now_s(), delay_ms });
      fn();
    }, delay_ms);
  }

  clearTimeout(handle: unknown): void {
    this.#clock.clearTimeout(handle);
  }

  afterArrivals(fn: () => void): void {
    this.#clock.afterArrivals(fn);
  }
}
