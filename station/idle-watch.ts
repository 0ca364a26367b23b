import type { Clock } from "../drivers/ports.ts";
import type { Reason } from "./cycle/reason.ts";

export interface IdleWatchParts {
  readonly clock: Pick<Clock, "setTimeout" | "clearTimeout">;
  /** The station's state by its name, as the machine has it. */
  readonly state: () => string;
  /** Asks every gauge for one reading. @returns what is wrong with the first that does not answer as it should */
  readonly ask: () => Promise<Reason | null>;
  readonly fault: (reason: Reason) => void;
}

/** Between two questions, and how long nothing has happened before the first. A stop later than that surprises whoever scans. */
const EVERY_s = 3;
/** States in which nobody else listens to the gauges. */
const IDLE: ReadonlySet<string> = new Set(["ready", "needsReference", "armed"]);

/**
 * Asks the gauges now and then while the station waits, so that one that is lost stops the station then, and not at
 * the next start. A running test watches its own; the inputs are watched all the time.
 */
export class IdleWatch {
  readonly #parts: IdleWatchParts;
  #timer: unknown;
  /** At the last look. */
  #before = "";
  #isStopped = false;

  constructor(parts: IdleWatchParts) {
    this.#parts = parts;
    this.#lookLater();
  }

  stop(): void {
    this.#isStopped = true;
    this.#parts.clock.clearTimeout(this.#timer);
  }

  #lookLater(): void {
    this.#timer = this.#parts.clock.setTimeout(() => void this.#look(), EVERY_s * 1000);
  }

  async #look(): Promise<void> {
    const { state, ask, fault } = this.#parts;
    const now = state();
    const isIdle = IDLE.has(now) && now === this.#before;
    this.#before = now;
    const reason = isIdle ? await ask() : null;
    if (this.#isStopped) return;
    // A test that has begun meanwhile hears of it itself.
    if (reason && IDLE.has(state())) fault(reason);
    this.#lookLater();
  }
}
