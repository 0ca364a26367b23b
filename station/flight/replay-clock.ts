import type { Clock } from "../../drivers/ports.ts";
import { labelOf } from "./driver-clock.ts";

interface Waiting {
  readonly due_s: number;
  readonly order: number;
  readonly fn: (...args: unknown[]) => void;
}

interface CycleTimer {
  readonly delay_ms: number;
  readonly fn: (...args: unknown[]) => void;
}

/** The tape's time, which every driver's clock follows. */
export interface TapeTime {
  t_s: number;
}

/**
 * The clock of one instrument's driver while a tape is played back. It shows the tape's time, and none of its timers
 * runs out by itself: late or early by a hair they would tear the tape's order. Whoever plays the tape lets them run out
 * when the tape shows what came of it.
 */
export class ReplayClock implements Clock {
  readonly #time: TapeTime;
  readonly #waiting = new Set<Waiting>();
  #order = 0;
  /** How far this instrument's time is ahead of the tape's. */
  ahead_s = 0;
  #reached_s = Number.NEGATIVE_INFINITY;
  /** While a timer runs out: when it is due, as if nothing had kept it waiting. */
  #due_s: number | null = null;

  constructor(time: TapeTime) {
    this.#time = time;
  }

  now_s(): number {
    return this.#due_s ?? Math.max(this.#time.t_s + this.ahead_s, this.#reached_s);
  }

  /** Something came of this instrument at this time: its clock does not go back behind it. */
  reached(t_s: number): void {
    this.#reached_s = Math.max(t_s, this.#reached_s);
  }

  wall_ms(): number {
    throw new Error("No driver asks for the date.");
  }

  setTimeout(fn: (...args: unknown[]) => void, delay_ms: number): unknown {
    const timer = { due_s: this.now_s() + delay_ms / 1000, order: this.#order++, fn };
    this.#waiting.add(timer);
    return timer;
  }

  clearTimeout(handle: unknown): void {
    this.#waiting.delete(handle as Waiting);
  }

  /** Nothing lies unread but what the tape has still to bring. */
  afterArrivals(fn: () => void): void {
    this.setTimeout(fn, 0);
  }

  /** Lets the timer with this label run out that is due first, at the tape's time. @returns false where there is none */
  run(label: number): boolean {
    const timer = this.#first((one) => labelOf(one.fn) === label);
    if (!timer) return false;
    this.#waiting.delete(timer);
    timer.fn();
    return true;
  }

  /** Lets the timer run out that is due first, when it is due. @returns false where there is none */
  runNext(): boolean {
    const timer = this.#first(() => true);
    if (!timer) return false;
    this.#waiting.delete(timer);
    this.#due_s = timer.due_s;
    timer.fn();
    return true;
  }

  #first(isMeant: (timer: Waiting) => boolean): Waiting | null {
    let first: Waiting | null = null;
    for (const timer of this.#waiting) {
      if (!isMeant(timer)) continue;
      const isEarlier = !first || timer.due_s < first.due_s;
      if (isEarlier || (timer.due_s === first?.due_s && timer.order < first.order)) first = timer;
    }
    return first;
  }

  /** The tape goes on. */
  catchUp(): void {
    this.#due_s = null;
  }
}

/** The clock of the unit's cycle while a tape is played back: it shows what it showed then, look by look. */
export class ReplayCycleClock implements Clock {
  readonly #nows_s: readonly number[];
  readonly #walls_ms: readonly number[];
  #nextNow = 0;
  #nextWall = 0;
  readonly #timers: CycleTimer[] = [];

  constructor(nows_s: readonly number[], walls_ms: readonly number[]) {
    this.#nows_s = nows_s;
    this.#walls_ms = walls_ms;
  }

  /** @throws Diverged where the tape has no more */
  now_s(): number {
    const t_s = this.#nows_s[this.#nextNow++];
    if (t_s === undefined) throw new Diverged("the test looks at the clock more often than it did then");
    return t_s;
  }

  wall_ms(): number {
    const wall_ms = this.#walls_ms[this.#nextWall++];
    if (wall_ms === undefined) throw new Diverged("the test asks for the date more often than it did then");
    return wall_ms;
  }

  /** Looks at the clock so far, both kinds. */
  get looks(): number {
    return this.#nextNow + this.#nextWall;
  }

  setTimeout(fn: (...args: unknown[]) => void, delay_ms: number): unknown {
    const timer = { delay_ms, fn };
    this.#timers.push(timer);
    return timer;
  }

  clearTimeout(handle: unknown): void {
    const at = this.#timers.indexOf(handle as CycleTimer);
    if (at >= 0) this.#timers.splice(at, 1);
  }

  afterArrivals(): void {
    throw new Error("The cycle waits for no arrivals.");
  }

  /** Lets the oldest timer of this length run out. @returns false where there is none */
  runOut(delay_ms: number): boolean {
    const at = this.#timers.findIndex((timer) => timer.delay_ms === delay_ms);
    const [timer] = at < 0 ? [] : this.#timers.splice(at, 1);
    timer?.fn();
    return timer !== undefined;
  }
}

/** What is played back does not go the way the tape has it. */
export class Diverged extends Error {
  constructor(why: string) {
    super(why);
    this.name = "Diverged";
  }
}
