import type { Clock } from "../drivers/ports.ts";
import { type QueuedTimer, TimerQueue } from "./timer-queue.ts";

/** A Monday morning at six, UTC: when simulated stations start unless told otherwise. */
export const DEMO_START_ms = Date.UTC(2026, 0, 5, 6, 0, 0);

const TIMERS_PER_ROUND = 32;

/**
 * Time that moves only when everything at the present instant has been done: timers fire one by one in order of
 * time, then of being set, and promises settle in between. One such clock drives drivers, plant and state
 * machines together, so that a run repeats exactly and takes as long as its arithmetic.
 */
export class VirtualClock implements Clock {
  #now_ms = 0;
  #holds = 0;
  #waitingForRelease: (() => void)[] = [];
  readonly #wallAtStart_ms: number;
  readonly #timers = new TimerQueue();

  /** @param wallAtStart_ms wall-clock milliseconds since 1970 at virtual time zero */
  constructor(wallAtStart_ms = DEMO_START_ms) {
    this.#wallAtStart_ms = wallAtStart_ms;
  }

  now_s(): number {
    return this.#now_ms / 1000;
  }

  wall_ms(): number {
    return this.#wallAtStart_ms + Math.round(this.#now_ms);
  }

  /** Unlike the machine's own timers, fractions of a millisecond count. */
  setTimeout(fn: (...args: unknown[]) => void, delay_ms: number): QueuedTimer {
    return this.#timers.add(this.#now_ms + Math.max(0, delay_ms), fn);
  }

  clearTimeout(handle: unknown): void {
    if (handle) (handle as QueuedTimer).cancelled = true;
  }

  /** Nothing lies unread in virtual time but what this same instant has still to bring. */
  afterArrivals(fn: () => void): void {
    this.setTimeout(fn, 0);
  }

  /** Stops time until the returned release is called: for work outside virtual time, such as writing a file. */
  hold(): () => void {
    this.#holds++;
    let released = false;
    return () => {
      if (released) return;
      released = true;
      if (--this.#holds === 0) this.#goOn();
    };
  }

  #goOn(): void {
    const waiting = this.#waitingForRelease;
    this.#waitingForRelease = [];
    for (const goOn of waiting) goOn();
  }

  /**
   * Lets time run until the promise settles.
   * @throws Error when nothing is left that could settle it
   */
  async runUntil<T>(promise: Promise<T>): Promise<T> {
    let settled = false;
    const mark = () => {
      settled = true;
      // Somebody else may hold the time for long; what has come has come.
      this.#goOn();
    };
    promise.then(mark, mark);
    if (await this.#run(Number.POSITIVE_INFINITY, () => settled)) return promise;
    throw new Error("Virtual time has nothing left to do, and the awaited event has not come.");
  }

  /** Lets this much time pass, everything due in it included. */
  async advance_s(seconds: number): Promise<void> {
    const end_ms = this.#now_ms + seconds * 1000;
    await this.#run(end_ms, () => false);
    this.#now_ms = end_ms;
    await new Promise((resolve) => setImmediate(resolve));
  }

  /**
   * Fires timers in order, one in each immediate: between two of them Node runs every promise and next-tick
   * callback that can run. Immediates are queued many at a time, since a round of the event loop for each costs
   * ten times as much.
   * @returns true when it was enough, false when no timer was left up to then and a whole round brought none
   */
  #run(until_ms: number, isEnough: () => boolean): Promise<boolean> {
    return new Promise((resolve, reject) => {
      let left = 0;
      let isOver = false;
      const round = (): void => {
        left = TIMERS_PER_ROUND;
        for (let k = 0; k < TIMERS_PER_ROUND; k++) setImmediate(step);
      };
      const step = (): void => {
        if (isOver) return;
        const isFirst = left-- === TIMERS_PER_ROUND;
        try {
          const wasEnough = isEnough();
          const isIdle = !wasEnough && this.#holds === 0 && !this.#fireNext(until_ms);
          isOver = wasEnough || (isIdle && isFirst);
          if (isOver) resolve(wasEnough);
        } catch (error) {
          isOver = true;
          reject(error);
        }
        if (isOver || left > 0) return;
        if (this.#holds > 0) this.#waitingForRelease.push(round);
        else round();
      };
      round();
    });
  }

  #fireNext(until_ms: number): boolean {
    const next = this.#timers.first();
    if (!next || next.due_ms > until_ms) return false;
    this.#timers.shift();
    this.#now_ms = Math.max(this.#now_ms, next.due_ms);
    next.fn();
    return true;
  }
}
