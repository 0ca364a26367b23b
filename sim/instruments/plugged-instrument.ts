import type { Clock, FarEnd } from "../../drivers/ports.ts";
import { type RandomStream, randomStream } from "../random.ts";

/** An instrument of the simulated station, reached over whatever carries bytes. */
export interface SimulatedInstrument {
  readonly name: string;
  /** Names `misbehave` takes. */
  readonly badDays: readonly string[];
  /**
   * Plugs a cable in; one at a time, an earlier one is hung up.
   * @returns unplug
   */
  attach(far: FarEnd): () => void;
  /** A bad day begins, in place of any before; null ends it. @throws RangeError naming the bad days there are */
  misbehave(badDay: string | null): void;
}

export interface InstrumentOptions {
  readonly name: string;
  readonly clock: Clock;
  readonly seed: number;
}

/** How long a cable that is put back by itself hangs loose. */
const LOOSE_s = 0.5;

/** The cable of an instrument, its bad days and those of what hangs on it; what bytes mean is the subclass's. */
export abstract class PluggedInstrument implements SimulatedInstrument {
  readonly name: string;
  abstract readonly badDays: readonly string[];
  protected readonly clock: Clock;
  protected readonly random: RandomStream;
  #far: FarEnd | null = null;
  #badDay: string | null = null;
  #looseUntil_s = Number.NEGATIVE_INFINITY;

  constructor({ name, clock, seed }: InstrumentOptions) {
    this.name = name;
    this.clock = clock;
    this.random = randomStream(seed, `instrument ${name}`);
  }

  attach(far: FarEnd): () => void {
    const before = this.#far;
    this.#far = null;
    before?.hangUp();
    if (this.#isLoose) {
      far.hangUp();
      return () => {};
    }
    this.#far = far;
    far.onBytes((bytes) => {
      if (this.#far === far) this.take(bytes);
    });
    this.plugged();
    return () => {
      if (this.#far === far) this.#far = null;
    };
  }

  misbehave(badDay: string | null): void {
    if (badDay !== null && !this.badDays.includes(badDay)) {
      throw new RangeError(`${this.name} has no bad day "${badDay}"; it has: ${this.badDays.join(", ")}.`);
    }
    this.#badDay = badDay;
    this.#looseUntil_s = badDay === "replugged" ? this.clock.now_s() + LOOSE_s : Number.NEGATIVE_INFINITY;
    this.dayChanged(badDay);
    if (this.#isLoose) {
      const far = this.#far;
      this.#far = null;
      far?.hangUp();
    }
  }

  /** Whoever is plugged in now. */
  protected get far(): FarEnd | null {
    return this.#far;
  }

  protected get badDay(): string | null {
    return this.#badDay;
  }

  protected get isPlugged(): boolean {
    return this.#far !== null;
  }

  /** Bytes that came over the cable, latin1. */
  protected abstract take(bytes: string): void;

  /** A cable has just been plugged in. */
  protected plugged(): void {}

  /** A bad day has begun or ended. */
  protected dayChanged(_badDay: string | null): void {}

  get #isLoose(): boolean {
    return this.#badDay === "unplugged" || this.clock.now_s() < this.#looseUntil_s;
  }
}
