import type { ByteTransport, Clock, GaugeMemory, Levels } from "../../drivers/ports.ts";
import type { Reason } from "../cycle/reason.ts";
import { CallNumbers } from "./call-numbers.ts";
import { DriverClock } from "./driver-clock.ts";
import type { Gate, KnownInstrument, Passing } from "./gate.ts";
import { InstrumentTail } from "./instrument-tail.ts";
import type { TapeEvent } from "./tape-event.ts";
import { TapeWriter } from "./tape-events-codec.ts";
import { TapedCable } from "./taped-cable.ts";
import { TapedClock } from "./taped-clock.ts";

/** What a driver and the station know at an attempt's begin that its tape alone does not tell. */
export interface StateAtStart {
  /** By gauge: what earlier lines have left behind. */
  readonly memories: Readonly<Record<string, GaugeMemory>>;
  /** By I/O block: the levels its inputs were last found to have. */
  readonly inputs: Readonly<Record<string, Levels>>;
  /** By instrument: readings that were asked for and have not come yet. */
  readonly reading: Readonly<Record<string, number>>;
  /** Instruments whose connecting, with what they were asked just after, goes on into the attempt. */
  readonly answering: readonly string[];
  /** The newest leak pressure before the attempt, Pa; null where there was none. */
  readonly newestPressure_Pa: number | null;
  /** The unit before, where its motor did not start. */
  readonly motorStoodStill: string | null;
}

/** The raw conversation of one attempt. */
export interface RawTape {
  readonly instruments: readonly string[];
  readonly atStart: StateAtStart;
  /** How the instruments were connected last, before the attempt. */
  readonly preamble: Buffer;
  /** From the attempt's begin to its judgement. */
  readonly events: Buffer;
  /** More came than a tape may hold: the end is missing, and it can't be replayed. */
  readonly isCut: boolean;
}

export interface FlightRecorderParts {
  readonly clock: Clock;
  /** Names of all gauges and of the I/O block. */
  readonly instruments: readonly string[];
  /** Those that speak by themselves. */
  readonly streaming: ReadonlySet<string>;
  /** Of an attempt; a gauge at 1 kHz sends some 2 MB a minute. */
  readonly most_bytes?: number;
}

const MOST_BYTES = 64e6;

/**
 * Tapes what passes between station and instruments: of the last connect, and of the attempt under way. In between only
 * so much is kept as the next attempt's tape must begin with. Everything is kept in memory until the attempt is judged.
 */
export class FlightRecorder implements Gate {
  /** The clock of the unit's cycle: what it shows, and every timer that runs out, is on the tape. */
  readonly cycleClock: Clock;
  readonly #parts: FlightRecorderParts;
  readonly #instruments = new Map<string, KnownInstrument>();
  readonly #tails: ReadonlyMap<string, InstrumentTail>;
  readonly #inputs = new Map<string, Levels>();
  readonly #calls = new CallNumbers();
  #preamble: TapeWriter | null = null;
  #isConnecting = false;
  /** Connected, and not at rest since, or not asked anything since: what they still answer belongs to their connecting. */
  readonly #answering = new Set<string>();
  /** Why the tape was dropped. */
  #failure: string | null = null;
  #tape: {
    readonly writer: TapeWriter;
    readonly atStart: StateAtStart;
    readonly preamble: Buffer | null;
  } | null = null;

  constructor(parts: FlightRecorderParts) {
    this.#parts = parts;
    this.cycleClock = new TapedClock(parts.clock, (event) => this.#surely(() => this.#inAttempt(event)));
    this.#tails = new Map(
      parts.instruments.map((name) => [name, new InstrumentTail(parts.streaming.has(name))]),
    );
  }

  clock(instrument: string): Clock {
    return new DriverClock(this.#parts.clock, (label) =>
      this.#surely(() => {
        this.#atRest(instrument);
        const event = { kind: "ran" as const, t_s: this.#now_s(), instrument, label };
        this.#tails.get(instrument)?.add(event);
        this.#addOf(instrument, event);
      }),
    );
  }

  /** Goes in an instrument's cable. */
  tap(instrument: string, bytes: ByteTransport): ByteTransport {
    return new TapedCable(instrument, bytes, this.#parts.clock, (event) =>
      this.#surely(() => this.#onCable(instrument, event)),
    );
  }

  knows(instrument: KnownInstrument): void {
    this.#instruments.set(instrument.name, instrument);
  }

  called(instrument: string, levels: Levels | null): number {
    const call = this.#surely(() => {
      this.#atRest(instrument);
      const event = { kind: "called" as const, t_s: this.#now_s(), instrument, levels };
      this.#tails.get(instrument)?.add(event);
      this.#addOf(instrument, event);
      return this.#calls.made(instrument, levels === null);
    });
    return call ?? 0;
  }

  pass(instrument: string, what: Passing, go: () => void): void {
    this.#surely(() => this.#passing(instrument, what));
    go();
  }

  #passing(instrument: string, what: Passing): void {
    switch (what.kind) {
      case "readings":
        this.#add({ kind: "readings", t_s: what.readings[0]?.t_s ?? this.#now_s(), instrument });
        break;
      case "levels":
        this.#inputs.set(instrument, what.levels);
        this.#add({ kind: "levels", t_s: this.#now_s(), instrument, levels: what.levels });
        break;
      case "fault":
        this.#add({ kind: "fault", t_s: this.#now_s(), instrument });
        break;
      case "ended":
        this.#ended(instrument, what);
        break;
    }
  }

  #ended(instrument: string, { call, id, well }: Extract<Passing, { kind: "ended" }>): void {
    const number = this.#calls.numberOf(instrument, id);
    this.#calls.ended(instrument, id);
    this.#add({ kind: "ended", t_s: this.#now_s(), instrument, call, number, well });
  }

  /** Fresh connections are about to be opened to everything. */
  connecting(): void {
    this.#surely(() => {
      this.#preamble = this.#writer();
      this.#isConnecting = true;
      this.#answering.clear();
      this.#inputs.clear();
      this.#calls.forget();
    });
  }

  /** All of them are open, and the outputs are safe. */
  connected(): void {
    this.#isConnecting = false;
    const { instruments, streaming } = this.#parts;
    for (const name of instruments) if (!streaming.has(name)) this.#answering.add(name);
  }

  /** The attempt begins now; a tape that was begun before and not ended is dropped. */
  begin(known: Pick<StateAtStart, "newestPressure_Pa" | "motorStoodStill">): void {
    this.#tape = null;
    this.#failure = null;
    this.#surely(() => {
      for (const name of this.#instruments.keys()) this.#atRest(name);
      const writer = this.#writer();
      for (const event of this.#tailsNow()) writer.add(event);
      const answering = [...this.#answering].filter((name) => this.#canSay(name));
      const reading = Object.entries(this.#calls.begin()).filter(
        ([name]) => !answering.includes(name) && !this.#tails.get(name)?.hasCalls,
      );
      const atStart = {
        ...known,
        // Of those that are still answering the connecting itself tells all.
        memories: Object.fromEntries(this.#memories().filter(([name]) => !answering.includes(name))),
        inputs: Object.fromEntries(this.#inputs),
        reading: Object.fromEntries(reading),
        answering,
      };
      this.#tape = { writer, atStart, preamble: this.#preamble?.bytes() ?? null };
    });
  }

  /** As of before what the tape begins with. */
  #memories(): readonly (readonly [string, GaugeMemory])[] {
    const now_s = this.#now_s();
    return [...this.#instruments].flatMap(([name, instrument]) => {
      const tail = this.#tails.get(name);
      const memory = tail?.memory(now_s) ?? (tail?.hasEnded ? null : instrument.memory?.());
      return memory ? [[name, memory] as const] : [];
    });
  }

  /** Somebody tells the cycle something, such as to stop. */
  told(event: { readonly type: "ABORT"; readonly reason: Reason }): void {
    this.#surely(() => this.#inAttempt({ kind: "told", t_s: this.#now_s(), event }));
  }

  /** Something comes to the cycle that no instrument says. */
  given(what: "begun" | "ambient", value: unknown = null): void {
    this.#surely(() => this.#inAttempt({ kind: "given", t_s: this.#now_s(), what, value }));
  }

  /** The attempt is judged. @returns its tape, or why there is none */
  end(): RawTape | string {
    const raw = this.#surely(() => {
      const tape = this.#tape;
      if (!tape?.preamble) return null;
      return {
        instruments: this.#parts.instruments,
        atStart: tape.atStart,
        preamble: tape.preamble,
        events: tape.writer.bytes(),
        isCut: tape.writer.isFull || this.#preamble?.isFull === true,
      };
    });
    this.#tape = null;
    return raw ?? `the attempt could not be taped: ${this.#failure ?? "its connecting was not"}`;
  }

  #tailsNow(): readonly TapeEvent[] {
    const now_s = this.#now_s();
    return [...this.#tails]
      .filter(([name, tail]) => tail.hasEnded || !this.#answering.has(name))
      .flatMap(([, tail]) => tail.events(now_s))
      .sort((a, b) => a.t_s - b.t_s);
  }

  #onCable(instrument: string, event: TapeEvent): void {
    this.#tails.get(instrument)?.add(event);
    if (event.kind === "sent" && !this.#canSay(instrument)) this.#answering.delete(instrument);
    this.#addOf(instrument, event);
  }

  /** What an instrument is in the middle of after its connecting belongs to that, its timers too. */
  #addOf(instrument: string, event: TapeEvent): void {
    const isAnswering = this.#answering.has(instrument);
    // The tapes of later attempts need all of it, whatever has begun meanwhile.
    if (isAnswering && this.#canSay(instrument)) {
      this.#preamble?.add(event);
      this.#tape?.writer.add(event);
    } else if (isAnswering && !this.#tape && event.kind !== "ran" && event.kind !== "called")
      this.#preamble?.add(event);
    else this.#add(event);
  }

  #canSay(instrument: string): boolean {
    return this.#instruments.get(instrument)?.isAtRest !== undefined;
  }

  /** Just before something may be asked: with nothing under way, what was said so far is over. */
  #atRest(instrument: string): void {
    const known = this.#instruments.get(instrument);
    if (known?.isAtRest !== true) return;
    this.#answering.delete(instrument);
    this.#tails.get(instrument)?.rests(known.memory?.() ?? {});
  }

  #inAttempt(event: TapeEvent): void {
    if (this.#tape) this.#add(event);
  }

  #add(event: TapeEvent): void {
    if (this.#tape) this.#tape.writer.add(event);
    else if (this.#isConnecting) this.#preamble?.add(event);
  }

  #writer(): TapeWriter {
    return new TapeWriter(this.#parts.instruments, this.#parts.most_bytes ?? MOST_BYTES);
  }

  /** No test fails by its tape: one that can't be gone on with is dropped, and whoever ends it is told why. */
  #surely<T>(work: () => T): T | null {
    try {
      return work();
    } catch (error) {
      this.#failure ??= error instanceof Error ? error.message : String(error);
      if (!this.#tape) this.#preamble = null;
      this.#tape = null;
      return null;
    }
  }

  #now_s(): number {
    return this.#parts.clock.now_s();
  }
}
