import type { Clock } from "../drivers/ports.ts";
import { type QueuedTimer, TimerQueue } from "./timer-queue.ts";
import { DEMO_START_ms } from "./virtual-clock.ts";

/** Real time by which this clock may be behind before it stops trying to catch up. */
const LAG_MAX_s = 0.25;
const NEXT_TO_NOTHING_ms = 1e-6;

/**
 * The pace of real time, or a multiple of it, dated as the virtual clock is: the demo's calibration and limit dates
 * hold whatever the day. Timers fire at their own moment of this clock's time, one by one in order, promises settling
 * in between, however late the machine is: on a busy machine time passes more slowly, and no simulated instrument
 * answers late for it.
 */
export class PacedClock implements Clock {
  readonly #real: Clock;
  readonly #speed: number;
  readonly #timers = new TimerQueue();
  /** This clock's time at the start of the real one, pushed back whenever the machine can't follow. */
  #start_ms: number;
  #now_ms = 0;
  /** Somebody has asked for the time, or a timer has fired: what follows from that belongs to the same moment. */
  #isAtMoment = false;
  #wake: unknown;
  #wake_ms = Number.POSITIVE_INFINITY;
  #isStopped = false;

  /** @param speed seconds that pass here in each real one */
  constructor(real: Clock, speed = 1) {
    this.#real = real;
    this.#speed = speed;
    this.#start_ms = -real.now_s() * 1000 * speed;
  }

  now_s(): number {
    if (!this.#isAtMoment && !this.#isStopped) {
      const next_ms = this.#timers.first()?.due_ms ?? Number.POSITIVE_INFINITY;
      this.#now_ms = Math.max(this.#now_ms, Math.min(this.#paced_ms(), next_ms));
      this.#stay();
    }
    return this.#now_ms / 1000;
  }

  wall_ms(): number {
    return DEMO_START_ms + Math.round(this.now_s() * 1000);
  }

  setTimeout(fn: (...args: unknown[]) => void, delay_ms: number): unknown {
    if (this.#isStopped) return undefined;
    const timer = this.#timers.add(this.now_s() * 1000 + Math.max(0, delay_ms), fn);
    return timer;
  }

  clearTimeout(handle: unknown): void {
    if (handle) (handle as QueuedTimer).cancelled = true;
  }

  /** What has been sent by now arrives at this same moment. */
  afterArrivals(fn: () => void): void {
    this.setTimeout(fn, 0);
  }

  /** No timer fires any more: simulated instruments would stream on for ever and keep the program alive. */
  stop(): void {
    this.#isStopped = true;
    this.#real.clearTimeout(this.#wake);
  }

  #paced_ms(): number {
    return this.#start_ms + this.#real.now_s() * 1000 * this.#speed;
  }

  /** Time stands still until everything that can follow now has been done. */
  #stay(): void {
    this.#isAtMoment = true;
    this.#real.afterArrivals(() => {
      this.#isAtMoment = false;
      this.#fireNext();
    });
  }

  #wakeFor({ due_ms }: QueuedTimer): void {
    if (due_ms === this.#wake_ms) return;
    this.#real.clearTimeout(this.#wake);
    this.#wake_ms = due_ms;
    const fire = () => {
      this.#wake_ms = Number.POSITIVE_INFINITY;
      if (!this.#isAtMoment) this.#fireNext();
    };
    this.#wake = this.#real.setTimeout(fire, Math.max(0, due_ms - this.#paced_ms()) / this.#speed);
  }

  #fireNext(): void {
    const next = this.#isStopped ? undefined : this.#timers.first();
    if (!next) return;
    const late_ms = this.#paced_ms() - next.due_ms;
    if (late_ms < -NEXT_TO_NOTHING_ms) {
      this.#wakeFor(next);
      return;
    }
    this.#start_ms -= Math.max(0, late_ms - LAG_MAX_s * 1000 * this.#speed);
    this.#timers.shift();
    this.#now_ms = Math.max(this.#now_ms, next.due_ms);
    this.#stay();
    next.fn();
  }
}
