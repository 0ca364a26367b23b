import type { Clock, InputsListener, Levels } from "../../drivers/ports.ts";
import { CallNumbers } from "./call-numbers.ts";
import type { Gate, KnownInstrument, Passing } from "./gate.ts";
import { ReplayClock, type TapeTime } from "./replay-clock.ts";
import type { TapeEvent } from "./tape-event.ts";

interface Held {
  readonly what: Passing;
  readonly go: () => void;
}

export type OfPassing = Extract<TapeEvent, { readonly kind: Passing["kind"] }>;

/** Where a tape is while it is played. */
export interface TapePlace {
  /** What a driver has for the station next, where nothing else has to come before it; null otherwise. */
  next(): OfPassing | null;
  /** It has come. */
  take(): void;
}

/** Holds what drivers have for the station until the tape says that it came. */
export class ReplayGate implements Gate {
  readonly #instruments = new Map<string, KnownInstrument>();
  readonly #watching = new Map<string, InputsListener>();
  readonly #time: TapeTime;
  readonly #tape: TapePlace;
  readonly #clocks = new Map<string, ReplayClock>();
  readonly #held = new Map<string, Held[]>();
  readonly #calls = new Map<string, (Levels | null)[]>();
  readonly #numbers = new CallNumbers();

  constructor(time: TapeTime, tape: TapePlace) {
    this.#time = time;
    this.#tape = tape;
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

  /** What comes just where the tape has it goes on at once, as it did then; all else waits. */
  pass(instrument: string, what: Passing, go: () => void): void {
    const next = this.#tape.next();
    if (next && next.instrument === instrument && this.#fits(what, next)) {
      this.#tape.take();
      go();
    } else {
      this.#of(this.#held, instrument).push({ what, go });
    }
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
    if (at < 0) return false;
    const [found] = held.splice(at, 1);
    for (let i = at - 1; i >= 0; i--)
      if (held[i]?.what.kind === event.kind && event.kind !== "ended") held.splice(i, 1);
    found?.go();
    return true;
  }

  /** Nothing of the connecting counts any more, but of instruments that are still at it. */
  forgetConnecting(answering: ReadonlySet<string>): void {
    for (const name of this.#held.keys()) if (!answering.has(name)) this.#held.delete(name);
    this.#numbers.forget(answering);
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
