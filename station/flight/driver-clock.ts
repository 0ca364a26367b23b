import type { Clock } from "../../drivers/ports.ts";

/** The clock a driver gets while its conversation is taped: which of its timers runs out is told. */
export class DriverClock implements Clock {
  readonly #clock: Clock;
  readonly #ran: (label: number) => void;

  /** @param ran told just before, with the label of what runs */
  constructor(clock: Clock, ran: (label: number) => void) {
    this.#clock = clock;
    this.#ran = ran;
  }

  now_s(): number {
    return this.#clock.now_s();
  }

  wall_ms(): number {
    return this.#clock.wall_ms();
  }

  setTimeout(fn: (...args: unknown[]) => void, delay_ms: number): unknown {
    return this.#clock.setTimeout(() => {
      this.#ran(labelOf(fn));
      fn();
    }, delay_ms);
  }

  clearTimeout(handle: unknown): void {
    this.#clock.clearTimeout(handle);
  }

  afterArrivals(fn: () => void): void {
    this.#clock.afterArrivals(() => {
      this.#ran(labelOf(fn));
      fn();
    });
  }
}

/**
 * Tells the few timers of one driver apart by their program text. Another build of the program may have other labels; a
 * replay that does not find one goes by when its timers are due.
 */
export function labelOf(fn: (...args: unknown[]) => void): number {
  const text = fn.toString();
  let label = text.length;
  for (let at = 0; at < text.length; at += 7) label = (label * 31 + text.charCodeAt(at)) % 65_521;
  return label;
}
