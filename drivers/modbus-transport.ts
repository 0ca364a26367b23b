import { CRC_bytes, hasRightCrc, withCrc } from "./modbus-crc.ts";
import type { ModbusLink } from "./modbus-profile.ts";
import { frameHex } from "./modbus-words.ts";
import {
  type ByteConnection,
  type ByteTransport,
  type Clock,
  type Connection,
  type ConnectionHandlers,
  DriverError,
  type Transport,
} from "./ports.ts";
import { printSeconds } from "./raw-line.ts";
import type { SerialSettings } from "./transports/serial-settings.ts";

export interface ModbusTransportOptions {
  readonly instrument: string;
  readonly link: ModbusLink;
  readonly port: SerialSettings;
  readonly clock: Clock;
  readonly bytes: ByteTransport;
}

/**
 * Modbus frames over whatever carries bytes, a frame in place of a line. A frame is handed over in its RTU form (unit,
 * function, data, CRC; latin1 text, a character a byte), which is the one the Modbus library makes and takes; over
 * Modbus TCP the header is put on and taken off here. One question is out at a time.
 * @see Modbus over Serial Line V1.02, 2.5.1 (RTU); Modbus Messaging on TCP/IP V1.0b, 3.1.3 (header)
 */
export class ModbusTransport implements Transport {
  /** Modbus TCP: number of the last question of the newest connection; settable for playing back a conversation. */
  transaction = 0;
  readonly #options: ModbusTransportOptions;

  constructor(options: ModbusTransportOptions) {
    this.#options = options;
  }

  get description(): string {
    return this.#options.bytes.description;
  }

  /** @throws DriverError as the byte transport does */
  async connect(handlers: ConnectionHandlers): Promise<Connection> {
    this.transaction = 0;
    const connection = new ModbusConnection(this.#options, handlers, this);
    const bytes = await this.#options.bytes.connect({
      bytes: (chunk, at_s) => connection.take(chunk, at_s),
      closed: (error) => {
        connection.end();
        handlers.closed(error);
      },
    });
    connection.start(bytes);
    return connection;
  }
}

const EXCEPTION = 0x80;
const EXCEPTION_bytes = 5;
const HEADER_bytes = 6;
/** Unit, function and data of the longest frame (Modbus Application Protocol V1.1b3, 4.1). */
const LONGEST_bytes = 254;

class ModbusConnection implements Connection {
  readonly #options: ModbusTransportOptions;
  readonly #handlers: ConnectionHandlers;
  readonly #quiet_s: number;
  #bytes: ByteConnection | undefined;
  /** The question that waits for its answer, RTU form. */
  #question: Buffer | undefined;
  readonly #numbers: { transaction: number };
  #received: Buffer = Buffer.alloc(0);
  #lastByte_s = Number.NEGATIVE_INFINITY;
  #sending: unknown;
  #idle: unknown;
  #hasEnded = false;

  constructor(
    options: ModbusTransportOptions,
    handlers: ConnectionHandlers,
    numbers: { transaction: number },
  ) {
    this.#numbers = numbers;
    this.#options = options;
    this.#handlers = handlers;
    this.#quiet_s = options.link.framing === "rtu" ? silenceBetweenFrames_s(options.port) : 0;
  }

  get isOpen(): boolean {
    return this.#bytes?.isOpen ?? false;
  }

  start(bytes: ByteConnection): void {
    this.#bytes = bytes;
  }

  /** What came before the question can't be part of its answer. @param text the frame in its RTU form */
  send(text: string): void {
    const frame = Buffer.from(text, "latin1");
    if (!this.#bytes?.isOpen)
      throw this.#error("PORT_LOST", `${this.#name} is not connected; nothing was sent.`);
    this.#forget();
    this.#question = frame;
    const wait_s = this.#lastByte_s + this.#quiet_s - this.#options.clock.now_s();
    if (wait_s <= 0) this.#put(frame);
    else {
      this.#sending = this.#options.clock.setTimeout(() => {
        // Whoever closed the cable meanwhile has told the one who asked.
        if (this.isOpen) this.#put(frame);
      }, wait_s * 1000);
    }
  }

  /** @param at_s when the bytes came */
  take(chunk: Buffer, at_s: number): void {
    if (this.#hasEnded) return;
    this.#lastByte_s = at_s;
    this.#received = this.#received.length === 0 ? chunk : Buffer.concat([this.#received, chunk]);
    if (this.#options.link.framing === "rtu") this.#takeRtu(at_s);
    else this.#takeTcp(at_s);
    if (this.#received.length > 0 && this.#idle === undefined) this.#awaitRest(this.#options.link.idleRest_s);
  }

  end(): void {
    this.#hasEnded = true;
    this.#options.clock.clearTimeout(this.#sending);
    this.#options.clock.clearTimeout(this.#idle);
  }

  async close(): Promise<void> {
    this.end();
    await this.#bytes?.close();
  }

  get #name(): string {
    return this.#options.instrument;
  }

  #put(frame: Buffer): void {
    if (this.#options.link.framing === "rtu") {
      this.#bytes?.send(frame);
      return;
    }
    const unitAndData = frame.subarray(0, -CRC_bytes);
    this.#numbers.transaction = (this.#numbers.transaction % 0xffff) + 1;
    const header = Buffer.alloc(HEADER_bytes);
    header.writeUInt16BE(this.#numbers.transaction, 0);
    header.writeUInt16BE(unitAndData.length, 4);
    this.#bytes?.send(Buffer.concat([header, unitAndData]));
  }

  #takeRtu(at_s: number): void {
    const received = this.#received;
    const question = this.#question;
    if (!question) {
      // A whole frame that nobody asked for is an answer out of step; anything else is noise.
      if (hasRightCrc(received)) this.#deliver(received, at_s);
      else if (received.length > LONGEST_bytes) this.#forget();
      return;
    }
    if (received[0] !== question[0]) {
      this.#refuse(`the frame of unit ${received[0]}, and unit ${question[0]} was asked`);
      return;
    }
    const code = received[1];
    if (code === undefined) return;
    if ((code & ~EXCEPTION) !== question[1]) {
      this.#refuse(`an answer to function ${code & ~EXCEPTION}, and function ${question[1]} was asked`);
      return;
    }
    const length = answerLength(question, received);
    if (length === undefined || received.length < length) {
      if (received.length > LONGEST_bytes + CRC_bytes)
        this.#refuse("more than the longest frame there can be");
    } else if (received.length > length) this.#refuse("more than the answer");
    else this.#deliver(received, at_s);
  }

  #takeTcp(at_s: number): void {
    const received = this.#received;
    const question = this.#question;
    if (!question) {
      // TCP makes no noise: whatever comes unasked, question and answer are out of step.
      this.#deliver(received, at_s);
      return;
    }
    if (received.length < HEADER_bytes) return;
    const transaction = received.readUInt16BE(0);
    const protocol = received.readUInt16BE(2);
    const length = received.readUInt16BE(4);
    const asked = this.#numbers.transaction;
    if (protocol !== 0 || length < 2 || length > LONGEST_bytes) this.#refuse("what is no Modbus TCP header");
    else if (transaction !== asked)
      this.#refuse(`the answer to transaction ${transaction}, and ${asked} was asked`);
    else if (received.length > HEADER_bytes + length) this.#refuse("more than the answer");
    else if (received.length === HEADER_bytes + length) {
      const data = received.subarray(HEADER_bytes);
      if (data[0] === question[0]) this.#deliver(withCrc(data), at_s);
      else this.#refuse(`the frame of unit ${data[0]}, and unit ${question[0]} was asked`);
    }
  }

  #deliver(frame: Buffer, at_s: number): void {
    this.#forget();
    this.#handlers.line(frame.toString("latin1"), at_s);
  }

  /** Nothing that comes after it on this connection can be matched to what was asked. */
  #refuse(what: string): void {
    const raw = this.#received;
    this.#forget();
    const message = `${this.#name} sent ${what} (${frameHex(raw)}); check the unit id in its profile, the line settings and the cable.`;
    this.#handlers.refused(raw.toString("latin1"), this.#error("REPLY_MALFORMED", message));
  }

  #forget(): void {
    this.#received = Buffer.alloc(0);
    this.#question = undefined;
  }

  #awaitRest(delay_s: number): void {
    const { clock, link } = this.#options;
    this.#idle = clock.setTimeout(() => {
      this.#idle = undefined;
      if (this.#hasEnded || this.#received.length === 0) return;
      const left_s = this.#lastByte_s + link.idleRest_s - clock.now_s();
      if (left_s > 1e-6) return this.#awaitRest(left_s);
      const raw = this.#received;
      this.#forget();
      const message = `${this.#name} sent part of an answer (${frameHex(raw)}) and then nothing for ${printSeconds(link.idleRest_s)}; check its cable and the line settings.`;
      this.#handlers.refused(raw.toString("latin1"), this.#error("REPLY_TIMEOUT", message));
    }, delay_s * 1000);
  }

  #error(code: "PORT_LOST" | "REPLY_MALFORMED" | "REPLY_TIMEOUT", message: string): DriverError {
    return new DriverError(code, this.#name, message);
  }
}

/**
 * Silence that parts two RTU frames: three and a half characters, above 19200 baud 1.75 ms.
 * @example silenceBetweenFrames_s({ baud: 9600, dataBits: 8, parity: "even", stopBits: 1, ... }) // 0.00401 s
 * @see Modbus over Serial Line V1.02, 2.5.1.1
 */
export function silenceBetweenFrames_s({ baud, dataBits, parity, stopBits }: SerialSettings): number {
  if (baud > 19_200) return 0.00175;
  const bits = 1 + dataBits + (parity === "none" ? 0 : 1) + stopBits;
  return (3.5 * bits) / baud;
}

/** @returns how long the whole answer is, undefined while that can't be told */
function answerLength(question: Buffer, answer: Buffer): number | undefined {
  const code = answer[1] ?? 0;
  if (code & EXCEPTION) return EXCEPTION_bytes;
  switch (code) {
    case 1:
    case 2:
      return 3 + Math.ceil(question.readUInt16BE(4) / 8) + CRC_bytes;
    case 3:
    case 4:
      return 3 + 2 * question.readUInt16BE(4) + CRC_bytes;
    case 0x2b:
      return identificationLength(answer);
    default:
      return 6 + CRC_bytes;
  }
}

/** Unit, function, MEI type, code, conformity, more follows, next object, count; then objects: id, length, text. */
function identificationLength(answer: Buffer): number | undefined {
  let end = 8;
  for (let left = answer[7] ?? Number.POSITIVE_INFINITY; left > 0; left--) {
    const length = answer[end + 1];
    if (length === undefined) return undefined;
    end += 2 + length;
  }
  return end + CRC_bytes;
}
