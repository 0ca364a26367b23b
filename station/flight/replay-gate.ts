import type { Clock, InputsListener, Levels, Reading } from "../../drivers/ports.ts";
import { CallNumbers } from "./call-numbers.ts";
import type { Gate, KnownInstrument, Passing } from "./gate.ts";
import { ReplayClock, type TapeTime } from "./replay-clock.ts";
import type { TapeEvent } from "./tape-event.ts";

type Deliver = (readings: readonly Reading[]) => void;

interface Held {
  readonly what: Passing;
  readonly go: () => void;
}

type OfPassing = Extract<TapeEvent, { readonly kind: Passing["kind"] }>;

/** Holds what drivers have for the station until the tape says that it came. */
export class ReplayGate implements Gate {
  readonly #instruments = new Map<string, KnownInstrument>();
  readonly #watching = new Map<string, InputsListener>();
  readonly #time: TapeTime;
  readonly #clocks = new Map<string, ReplayClock>();
  /** By gauge: who has begun to watch since the readings that were let through last. */
  readonly #newest = new Map<string, Deliver>();
  readonly #passed = new Map<string, readonly Reading[]>();
  readonly #held = new Map<string, Held[]>();
  readonly #calls = new Map<string, (Levels | null)[]>();
  readonly #numbers = new CallNumbers();

  constructor(time: TapeTime) {
    this.#time = time;
  }

  clock(instrument: string): Clock {
    return this.clockOf(instrument);
  }

  clockOf(instrument: string): ReplayClock {
    const clock = this.#clocks.get(instrument) ?? new ReplayClock(this.#time);
    this.#clocks.set(instrument, clock);
    return clock;
  }

  catchUp(): void {
    for (const clock of this.#clocks.values()) clock.catchUp();
  }

  knows(instrument: KnownInstrument): void {
    this.#instruments.set(instrument.name, instrument);
  }

  instrument(name: string): KnownInstrument | undefined {
    return this.#instruments.get(name);
  }

  watching(instrument: string, deliver: Deliver): void {
    this.#newest.set(instrument, deliver);
  }

  watched(instrument: string, listener: InputsListener): void {
    this.#watching.set(instrument, listener);
  }

  /** Whoever watches this block's inputs is told these levels, past its driver. */
  tellLevels(instrument: string, levels: Levels): void {
    this.#watching.get(instrument)?.levels(levels);
  }

  called(instrument: string, levels: Levels | null): number {
    this.#of(this.#calls, instrument).push(levels);
    return this.#numbers.made(instrument, levels === null);
  }

  pass(instrument: string, what: Passing, go: () => void): void {
    this.#of(this.#held, instrument).push({ what, go });
  }

  /** @returns whether the station has made this call; each counts once */
  meetCall(instrument: string, levels: Levels | null): boolean {
    const calls = this.#of(this.#calls, instrument);
    const at = calls.findIndex((called) => areSame(called, levels));
    if (at >= 0) calls.splice(at, 1);
    return at >= 0;
  }

  /** Lets through what the tape has; readings and levels from before it have found nobody then. @returns false where it is not there */
  release(event: OfPassing): boolean {
    const held = this.#of(this.#held, event.instrument);
    const at = held.findIndex(({ what }) => this.#fits(what, event));
    if (at < 0) return event.kind === "readings" && this.#passAgain(event);
    const [found] = held.splice(at, 1);
    for (let i = at - 1; i >= 0; i--)
      if (held[i]?.what.kind === event.kind && event.kind !== "ended") held.splice(i, 1);
    if (found?.what.kind === "readings") {
      this.#passed.set(event.instrument, found.what.readings);
      this.#newest.delete(event.instrument);
    }
    found?.go();
    return true;
  }

  /** A stream's line also reaches who begins to watch because of it. */
  #passAgain({ instrument, t_s }: OfPassing): boolean {
    const readings = this.#passed.get(instrument);
    const deliver = this.#newest.get(instrument);
    if (!readings || readings[0]?.t_s !== t_s || !deliver) return false;
    this.#newest.delete(instrument);
    deliver(readings);
    return true;
  }

  /** Nothing of the connecting counts any more. */
  forgetConnecting(): void {
    this.#held.clear();
    this.#numbers.forget();
    this.#calls.clear();
  }

  /** The attempt's own events follow. */
  begin(): void {
    this.#numbers.begin();
    this.#calls.clear();
  }

  #fits(what: Passing, event: OfPassing): boolean {
    switch (event.kind) {
      case "readings":
        return what.kind === "readings" && what.readings[0]?.t_s === event.t_s;
      case "levels":
        return what.kind === "levels" && areSame(what.levels, event.levels);
      case "fault":
        return what.kind === "fault";
      case "ended":
        return (
          what.kind === "ended" &&
          what.call === event.call &&
          what.well === event.well &&
          (event.call === "connect" || this.#numbers.numberOf(event.instrument, what.id) === event.number)
        );
    }
  }

  #of<T>(map: Map<string, T[]>, instrument: string): T[] {
    const list = map.get(instrument) ?? [];
    map.set(instrument, list);
    return list;
  }
}

function areSame(a: Levels | null, b: Levels | null): boolean {
  if (a === null || b === null) return a === b;
  const names = Object.keys(a);
  return names.length === Object.keys(b).length && names.every((name) => a[name] === b[name]);
}
