import { z } from "zod";
import { TAPE_EVENT_KINDS, type TapeEvent } from "./tape-event.ts";

/** A time that is no whole number of microseconds is kept as it is. */
const AS_DOUBLE = 0x80;
const FIRST_BYTES = 16_384;

const LevelsShape = z.record(z.string(), z.boolean());
const EndShape = z.tuple([z.string(), z.string()]);
const GivenShape = z.tuple([z.enum(["begun", "ambient"]), z.unknown()]);

/** A part of a tape that can't be read. */
export class TapeDamaged extends Error {
  constructor(why: string) {
    super(why);
    this.name = "TapeDamaged";
  }
}

/** Writes events one after the other into memory: few bytes each, and nothing made for each. */
export class TapeWriter {
  readonly #index: ReadonlyMap<string, number>;
  readonly #most_bytes: number;
  #buffer = Buffer.allocUnsafe(FIRST_BYTES);
  #length = 0;
  #last_us = 0;
  #isFull = false;

  /** @param most_bytes what comes after that is left out, and the tape says that it is full */
  constructor(instruments: readonly string[], most_bytes = Number.POSITIVE_INFINITY) {
    this.#index = new Map(instruments.map((name, index) => [name, index]));
    this.#most_bytes = most_bytes;
  }

  /** Whether something was left out. */
  get isFull(): boolean {
    return this.#isFull;
  }

  /** Everything so far, not copied. */
  bytes(): Buffer {
    return this.#buffer.subarray(0, this.#length);
  }

  add(event: TapeEvent): void {
    if (this.#isFull) return;
    this.#kindAndTime(TAPE_EVENT_KINDS.indexOf(event.kind), event.t_s);
    if ("instrument" in event) this.#byte(this.#indexOf(event.instrument));
    switch (event.kind) {
      case "heard":
      case "sent":
        this.#chunk(event.bytes);
        break;
      case "refused":
      case "lost":
        this.#json([event.code, event.message]);
        break;
      case "levels":
      case "called":
        this.#json(event.levels);
        break;
      case "ended":
        this.#byte(CALLS.indexOf(event.call) * 2 + (event.well ? 1 : 0));
        this.#signed(event.number);
        break;
      case "ran":
        this.#whole(event.label);
        break;
      case "wall":
        this.#double(event.wall_ms);
        break;
      case "timer":
        this.#double(event.delay_ms);
        break;
      case "told":
        this.#json(event.event);
        break;
      case "given":
        this.#json([event.what, event.value]);
        break;
    }
    if (this.#length > this.#most_bytes) this.#isFull = true;
  }

  #kindAndTime(kind: number, t_s: number): void {
    const t_us = Math.round(t_s * 1e6);
    const isExact = t_us / 1e6 === t_s;
    this.#byte(isExact ? kind : kind | AS_DOUBLE);
    if (isExact) this.#signed(t_us - this.#last_us);
    else this.#double(t_s);
    this.#last_us = t_us;
  }

  #indexOf(instrument: string): number {
    const index = this.#index.get(instrument);
    if (index === undefined) throw new Error(`The tape has no instrument ${instrument}.`);
    return index;
  }

  #json(value: unknown): void {
    this.#chunk(Buffer.from(JSON.stringify(value ?? null), "utf8"));
  }

  #chunk(bytes: Buffer): void {
    this.#whole(bytes.length);
    this.#room(bytes.length);
    bytes.copy(this.#buffer, this.#length);
    this.#length += bytes.length;
  }

  #byte(value: number): void {
    this.#room(1);
    this.#buffer[this.#length++] = value;
  }

  #double(value: number): void {
    this.#room(8);
    this.#length = this.#buffer.writeDoubleLE(value, this.#length);
  }

  #signed(value: number): void {
    this.#whole(value < 0 ? -2 * value - 1 : 2 * value);
  }

  /** Seven bits a byte, the lowest first. */
  #whole(value: number): void {
    this.#room(8);
    let rest = value;
    while (rest >= 0x80) {
      this.#buffer[this.#length++] = (rest % 0x80) | 0x80;
      rest = Math.floor(rest / 0x80);
    }
    this.#buffer[this.#length++] = rest;
  }

  #room(bytes: number): void {
    if (this.#length + bytes <= this.#buffer.length) return;
    const larger = Buffer.allocUnsafe(Math.max(2 * this.#buffer.length, this.#length + bytes));
    this.#buffer.copy(larger, 0, 0, this.#length);
    this.#buffer = larger;
  }
}

const CALLS = ["connect", "read", "set"] as const;

/**
 * Reads what a TapeWriter wrote.
 * @param instruments as they were given to the writer
 * @throws TapeDamaged after the last event that can be read
 */
export function* readTapeEvents(bytes: Buffer, instruments: readonly string[]): Generator<TapeEvent> {
  const reader = new ByteReader(bytes);
  let last_us = 0;
  while (!reader.isAtEnd) {
    const first = reader.byte();
    const t_s = first & AS_DOUBLE ? reader.double() : (last_us + reader.signed()) / 1e6;
    if (!Number.isFinite(t_s)) throw new TapeDamaged("a time is no number");
    last_us = Math.round(t_s * 1e6);
    yield bodyOf(reader, first & ~AS_DOUBLE, t_s, instruments);
  }
}

function bodyOf(reader: ByteReader, number: number, t_s: number, instruments: readonly string[]): TapeEvent {
  const kind = TAPE_EVENT_KINDS[number];
  const instrument = () => {
    const name = instruments[reader.byte()];
    if (name === undefined) throw new TapeDamaged("it names an instrument that is not on it");
    return name;
  };
  switch (kind) {
    case "heard":
    case "sent":
      return { kind, t_s, instrument: instrument(), bytes: reader.chunk() };
    case "opened":
    case "shut":
      return { kind, t_s, instrument: instrument() };
    case "fault":
    case "readings":
      return { kind, t_s, instrument: instrument() };
    case "refused":
    case "lost": {
      const name = instrument();
      const [code, message] = reader.json(EndShape);
      return { kind, t_s, instrument: name, code, message };
    }
    case "levels":
      return { kind, t_s, instrument: instrument(), levels: reader.json(LevelsShape) };
    case "called":
      return { kind, t_s, instrument: instrument(), levels: reader.json(LevelsShape.nullable()) };
    case "ended": {
      const name = instrument();
      const byte = reader.byte();
      const call = CALLS[byte >> 1];
      if (!call) throw new TapeDamaged("it has a call of no known kind");
      return { kind, t_s, instrument: name, call, number: reader.signed(), well: (byte & 1) === 1 };
    }
    case "ran":
      return { kind, t_s, instrument: instrument(), label: reader.whole() };
    case "now":
      return { kind, t_s };
    case "wall":
      return { kind, t_s, wall_ms: reader.double() };
    case "timer":
      return { kind, t_s, delay_ms: reader.double() };
    case "told":
      return { kind, t_s, event: reader.json(z.unknown()) };
    case "given": {
      const [what, value] = reader.json(GivenShape);
      return { kind, t_s, what, value };
    }
    default:
      throw new TapeDamaged("it has an event of no known kind");
  }
}

class ByteReader {
  readonly #bytes: Buffer;
  #at = 0;

  constructor(bytes: Buffer) {
    this.#bytes = bytes;
  }

  get isAtEnd(): boolean {
    return this.#at >= this.#bytes.length;
  }

  byte(): number {
    this.#need(1);
    return this.#bytes[this.#at++] as number;
  }

  double(): number {
    this.#need(8);
    const value = this.#bytes.readDoubleLE(this.#at);
    this.#at += 8;
    return value;
  }

  signed(): number {
    const value = this.whole();
    return value % 2 === 1 ? -(value + 1) / 2 : value / 2;
  }

  chunk(): Buffer {
    const length = this.whole();
    this.#need(length);
    this.#at += length;
    return this.#bytes.subarray(this.#at - length, this.#at);
  }

  json<T>(shape: z.ZodType<T>): T {
    const text = this.chunk().toString("utf8");
    try {
      return shape.parse(JSON.parse(text));
    } catch {
      throw new TapeDamaged("a part of it is not what its kind of event has");
    }
  }

  whole(): number {
    let value = 0;
    for (let scale = 1; scale <= 0x80 ** 7; scale *= 0x80) {
      const byte = this.byte();
      value += (byte & 0x7f) * scale;
      if (byte < 0x80) return value;
    }
    throw new TapeDamaged("a number is too large");
  }

  #need(bytes: number): void {
    if (this.#at + bytes > this.#bytes.length) throw new TapeDamaged("it ends in the middle of an event");
  }
}
