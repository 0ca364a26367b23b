import { hasRightCrc, withCrc } from "../../drivers/modbus-crc.ts";
import { type InstrumentOptions, PluggedInstrument } from "./plugged-instrument.ts";

export interface ModbusOptions extends InstrumentOptions {
  readonly framing: "rtu" | "tcp";
  readonly unitId: number;
  readonly latency_s: number;
}

/** Bad days of cable, frames and identity, the same for every Modbus instrument. */
export const MODBUS_BAD_DAYS = [
  "silent",
  "half_line",
  "glued",
  "garbage",
  "damaged",
  "over_long",
  "wrong_unit",
  "exception",
  "late",
  "unplugged",
  "replugged",
  "wrong_identity",
] as const;

/** Refusals of the standard (Modbus Application Protocol V1.1b3, 7). */
const ILLEGAL_FUNCTION = 1;
export const ILLEGAL_ADDRESS = 2;
export const ILLEGAL_VALUE = 3;
export const DEVICE_FAILURE = 4;

/** How much later than usual everything comes on a `late` day. */
const LATE_s = 3;
/** More than any frame there is. */
const OVER_LONG_bytes = 300;
const HEADER_bytes = 6;

/** What a question is answered with: the data after the function code, or a refusal. */
export type Answer = Buffer | { readonly exception: number };

export type Words = readonly number[];

/**
 * A Modbus server: takes frames apart and puts them together, RTU or TCP, and has the bad days of the line. What
 * stands in registers and coils is the subclass's; what it does not have is refused as the standard asks for.
 * @see Modbus Application Protocol V1.1b3, 6; Modbus over Serial Line V1.02, 2.5.1; Messaging on TCP/IP V1.0b, 3.1.3
 */
export abstract class ModbusInstrument extends PluggedInstrument {
  readonly #options: ModbusOptions;
  #received: Buffer = Buffer.alloc(0);
  #lastSent: Buffer = Buffer.alloc(0);

  constructor(options: ModbusOptions) {
    super(options);
    this.#options = options;
  }

  /** Maker, product code, revision. */
  protected abstract identification(): readonly [maker: string, product: string, revision: string];

  /** All registers of one question at one moment; null where it has not all of them. */
  protected abstract inputRegisters(from: number, count: number): Words | null;
  protected abstract holdingRegisters(from: number, count: number): Words | null;

  protected discreteInputs(_from: number, _count: number): readonly boolean[] | null {
    return null;
  }

  protected coils(_from: number, _count: number): readonly boolean[] | null {
    return null;
  }

  /** @returns an exception, 0 for done */
  protected writeCoils(_from: number, _levels: readonly boolean[]): number {
    return ILLEGAL_FUNCTION;
  }

  /** @returns an exception, 0 for done */
  protected writeRegister(_address: number, _word: number): number {
    return ILLEGAL_FUNCTION;
  }

  /** Whether questions reach it at all. */
  protected get listens(): boolean {
    return true;
  }

  protected override plugged(): void {
    this.#received = Buffer.alloc(0);
  }

  protected override take(bytes: string): void {
    this.#received = Buffer.concat([this.#received, Buffer.from(bytes, "latin1")]);
    if (this.#options.framing === "rtu") this.#takeRtu();
    else this.#takeTcp();
  }

  #takeRtu(): void {
    for (;;) {
      const length = questionLength(this.#received);
      if (length === null || this.#received.length < length) return;
      const frame = this.#received.subarray(0, length);
      this.#received = this.#received.subarray(length);
      const data = frame.subarray(0, -2);
      if (!hasRightCrc(frame)) {
        // Nobody knows where the next one begins.
        this.#received = Buffer.alloc(0);
        return;
      }
      this.#hear(data, Buffer.alloc(0));
    }
  }

  #takeTcp(): void {
    while (this.#received.length >= HEADER_bytes) {
      const length = HEADER_bytes + this.#received.readUInt16BE(4);
      if (this.#received.length < length) return;
      const frame = this.#received.subarray(0, length);
      this.#received = this.#received.subarray(length);
      this.#hear(frame.subarray(HEADER_bytes), frame.subarray(0, HEADER_bytes));
    }
  }

  /** @param data unit, function and what follows */
  #hear(data: Buffer, header: Buffer): void {
    const { unitId, latency_s } = this.#options;
    if (!this.listens || data[0] !== unitId) return;
    const question = Buffer.from(data);
    const far = this.far;
    const later_s = this.badDay === "late" ? LATE_s : 0;
    // Written at once, read when the answer goes out: so nothing that is shown is older than its answer.
    const written = this.#write(question);
    this.clock.setTimeout(
      () => {
        if (far === null || this.far !== far) return;
        this.#send(written ?? this.#read(question), question, Buffer.from(header));
      },
      (latency_s + later_s) * 1000,
    );
  }

  #write(question: Buffer): Answer | null {
    const code = question[1];
    if (code === undefined || ![5, 6, 15].includes(code) || question.length < 6) return null;
    if (this.badDay === "exception") return { exception: DEVICE_FAILURE };
    const address = question.readUInt16BE(2);
    const second = question.readUInt16BE(4);
    const exception =
      code === 5
        ? second === 0 || second === 0xff00
          ? this.writeCoils(address, [second !== 0])
          : ILLEGAL_VALUE
        : code === 6
          ? this.writeRegister(address, second)
          : this.writeCoils(address, bitsOf(question.subarray(7), second));
    return exception === 0 ? question.subarray(2, 6) : { exception };
  }

  #read(question: Buffer): Answer {
    if (this.badDay === "exception") return { exception: DEVICE_FAILURE };
    const code = question[1] ?? 0;
    if (code === 0x2b) return this.#identify(question);
    if (code < 1 || code > 4) return { exception: ILLEGAL_FUNCTION };
    const from = question.readUInt16BE(2);
    const count = question.readUInt16BE(4);
    if (count < 1 || count > (code < 3 ? 2000 : 125)) return { exception: ILLEGAL_VALUE };
    const bytes =
      code === 1
        ? packed(this.coils(from, count))
        : code === 2
          ? packed(this.discreteInputs(from, count))
          : worded(code === 3 ? this.holdingRegisters(from, count) : this.inputRegisters(from, count));
    return bytes ? Buffer.concat([Buffer.of(bytes.length), bytes]) : { exception: ILLEGAL_ADDRESS };
  }

  /** Basic identification, as a stream (6.21): MEI type, code, conformity, more follows, next object, count, objects. */
  #identify(question: Buffer): Answer {
    if (question[2] !== 0x0e || question[3] !== 1) return { exception: ILLEGAL_VALUE };
    const [maker, product, revision] = this.identification();
    const objects = [maker, this.badDay === "wrong_identity" ? "COUNTER" : product, revision].map(
      (text, id) => Buffer.concat([Buffer.of(id, text.length), Buffer.from(text, "latin1")]),
    );
    return Buffer.concat([Buffer.of(0x0e, 1, 1, 0, 0, objects.length), ...objects]);
  }

  #send(answer: Answer, question: Buffer, header: Buffer): void {
    const { framing } = this.#options;
    const isBuffer = Buffer.isBuffer(answer);
    const unit = (question[0] ?? 0) + (this.badDay === "wrong_unit" ? 1 : 0);
    const code = (question[1] ?? 0) | (isBuffer ? 0 : 0x80);
    const data = Buffer.concat([Buffer.of(unit, code), isBuffer ? answer : Buffer.of(answer.exception)]);
    const frame = framing === "rtu" ? withCrc(data) : withHeader(data, header);
    const sent = this.#spoilt(frame, data);
    this.#lastSent = frame;
    if (sent.length > 0) this.far?.send(sent.toString("latin1"));
  }

  /** The frame as the day lets it go out. */
  #spoilt(frame: Buffer, data: Buffer): Buffer {
    switch (this.badDay) {
      case "silent":
        return Buffer.alloc(0);
      case "half_line":
        return frame.subarray(0, Math.ceil(frame.length / 2));
      case "glued":
        return Buffer.concat([this.#lastSent.length > 0 ? this.#lastSent : frame, frame]);
      case "garbage":
        return Buffer.from(frame.map(() => 0x80 + Math.floor(this.random.between(0, 0x80))));
      case "over_long":
        return Buffer.concat([frame, Buffer.alloc(OVER_LONG_bytes)]);
      case "damaged": {
        const damaged = Buffer.from(frame);
        // A bit of the data on a serial line; TCP keeps its data whole, so there it is the number of another question.
        const at = this.#options.framing === "rtu" ? Math.min(3, data.length - 1) : 1;
        damaged[at] = (damaged[at] ?? 0) ^ 0x10;
        return damaged;
      }
      default:
        return frame;
    }
  }
}

/** @returns how long the whole question is, null while that can't be told */
function questionLength(bytes: Buffer): number | null {
  const code = bytes[1];
  if (code === undefined) return null;
  if (code === 0x2b) return 7;
  if (code === 15 || code === 16) return bytes[6] === undefined ? null : 9 + bytes[6];
  return 8;
}

function withHeader(data: Buffer, question: Buffer): Buffer {
  return Buffer.concat([question.subarray(0, 4), Buffer.of(data.length >> 8, data.length & 0xff), data]);
}

function bitsOf(bytes: Buffer, count: number): boolean[] {
  return Array.from({ length: count }, (_, i) => (((bytes[i >> 3] ?? 0) >> (i & 7)) & 1) === 1);
}

function packed(bits: readonly boolean[] | null): Buffer | null {
  if (!bits) return null;
  const bytes = Buffer.alloc(Math.ceil(bits.length / 8));
  bits.forEach((bit, i) => {
    if (bit) bytes[i >> 3] = (bytes[i >> 3] ?? 0) | (1 << (i & 7));
  });
  return bytes;
}

function worded(words: Words | null): Buffer | null {
  return words && Buffer.from(words.flatMap((word) => [word >> 8, word & 0xff]));
}

/** Registers at these addresses, or null where one is missing. */
export function registersAt(
  registers: ReadonlyMap<number, number>,
  from: number,
  count: number,
): Words | null {
  const words = Array.from({ length: count }, (_, i) => registers.get(from + i));
  return words.every((word) => word !== undefined) ? words : null;
}

/** Two characters a register, filled up with NUL. @example wordsOfText("ABC", 2) // [0x4142, 0x4300] */
export function wordsOfText(text: string, registers: number): Words {
  const bytes = Buffer.alloc(2 * registers);
  bytes.write(text, "latin1");
  return Array.from({ length: registers }, (_, i) => bytes.readUInt16BE(2 * i));
}
