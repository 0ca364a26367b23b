import { performance } from "node:perf_hooks";
import type { Clock } from "./ports.ts";

/** The machine's own time: monotonic from process start, wall clock for dates. */
export class RealClock implements Clock {
  now_s(): number {
    return performance.now() / 1000;
  }

  wall_ms(): number {
    return Date.now();
  }

  setTimeout(fn: (...args: unknown[]) => void, delay_ms: number): unknown {
    // Node cuts fractions off; a time-out may come late but never early.
    return setTimeout(fn, Math.ceil(delay_ms));
  }

  clearTimeout(handle: unknown): void {
    clearTimeout(handle as NodeJS.Timeout | undefined);
  }

  /** Node reads its ports between timers and immediates. */
  afterArrivals(fn: () => void): void {
    setImmediate(fn);
  }
}
