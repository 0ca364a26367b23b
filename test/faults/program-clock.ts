import type { Clock } from "../../drivers/ports.ts";
import type { VirtualClock } from "../../sim/virtual-clock.ts";

/** The machine's own clock: somebody, or a time server, may put it forward or back; a restarted program finds it so. */
export interface WallClock {
  offset_ms: number;
}

interface Waiting {
  readonly fn: (...args: unknown[]) => void;
  cancelled: boolean;
  inner: unknown;
}

/**
 * Time as one program has it. It can be held up, as by a busy machine or a stopped process: until it goes on no timer
 * fires and nothing arrives; then come the overdue timers, then what had arrived meanwhile, then what waited for that (the
 * order of Node's event loop: timers before input). Once the program has ended nothing of it ever runs again.
 */
export class ProgramClock implements Clock {
  readonly #world: VirtualClock;
  readonly #wall: WallClock;
  #isRunning = true;
  #isHeldUp = false;
  #heldUntil_s = Number.NEGATIVE_INFINITY;
  #overdue: Waiting[] = [];
  #arrived: (() => void)[] = [];
  #afterwards: (() => void)[] = [];

  constructor(world: VirtualClock, wall: WallClock) {
    this.#world = world;
    this.#wall = wall;
  }

  get isRunning(): boolean {
    return this.#isRunning;
  }

  get isHeldUp(): boolean {
    return this.#isHeldUp;
  }

  now_s(): number {
    return this.#world.now_s();
  }

  wall_ms(): number {
    return this.#world.wall_ms() + this.#wall.offset_ms;
  }

  setTimeout(fn: (...args: unknown[]) => void, delay_ms: number): unknown {
    const waiting: Waiting = { fn, cancelled: false, inner: undefined };
    waiting.inner = this.#world.setTimeout(() => this.#due(waiting), delay_ms);
    return waiting;
  }

  clearTimeout(handle: unknown): void {
    if (!handle) return;
    const waiting = handle as Waiting;
    waiting.cancelled = true;
    this.#world.clearTimeout(waiting.inner);
  }

  afterArrivals(fn: () => void): void {
    if (this.isHeldUp) this.#afterwards.push(fn);
    else this.setTimeout(fn, 0);
  }

  /** Something reaches the machine: the program takes it when it can. */
  arrive(fn: () => void): void {
    if (!this.#isRunning) return;
    if (this.isHeldUp) this.#arrived.push(fn);
    else fn();
  }

  /** Nothing of the program runs for so long. */
  holdUp(seconds: number): void {
    const until_s = this.#world.now_s() + seconds;
    if (until_s <= this.#heldUntil_s) return;
    this.#isHeldUp = true;
    this.#heldUntil_s = until_s;
    this.#world.setTimeout(() => this.#goOn(until_s), seconds * 1000);
  }

  /** The program has ended. */
  end(): void {
    this.#isRunning = false;
    this.#overdue = [];
    this.#arrived = [];
    this.#afterwards = [];
  }

  #due(waiting: Waiting): void {
    if (!this.#isRunning || waiting.cancelled) return;
    if (this.isHeldUp) this.#overdue.push(waiting);
    else waiting.fn();
  }

  #goOn(until_s: number): void {
    if (until_s < this.#heldUntil_s) return;
    this.#isHeldUp = false;
    const [overdue, arrived, afterwards] = [this.#overdue, this.#arrived, this.#afterwards];
    this.#overdue = [];
    this.#arrived = [];
    this.#afterwards = [];
    // Each in its turn, so that promises settle in between.
    for (const waiting of overdue) waiting.inner = this.#world.setTimeout(() => this.#due(waiting), 0);
    for (const fn of arrived) this.#world.setTimeout(() => this.arrive(fn), 0);
    for (const fn of afterwards) this.setTimeout(fn, 0);
  }
}
