import type { Conversation } from "./conversation.ts";

/**
 * The interfaces the station sees of the world outside: time, cables, gauges, outputs, inputs. Everything that
 * implements one takes a Clock; nothing reads the machine's own clock behind its back.
 */

/** Time, real or virtual. Its timers are the ones xstate uses too (setTimeout/clearTimeout in milliseconds). */
export interface Clock {
  /** Monotonic seconds from an arbitrary start. */
  now_s(): number;
  /** Wall-clock milliseconds since 1970-01-01 UTC, for dates in records. */
  wall_ms(): number;
  setTimeout(fn: (...args: unknown[]) => void, delay_ms: number): unknown;
  clearTimeout(handle: unknown): void;
  /** Calls once what has already reached the machine has been handed over: an answer unread is not an answer missed. */
  afterArrivals(fn: () => void): void;
}

export type DriverErrorCode =
  | "PORT_MISSING" // the port or address does not exist or refuses
  | "PORT_BUSY" // somebody else has it
  | "PORT_LOST" // it was open and went away
  | "REPLY_TIMEOUT" // nothing, or nothing complete, in time
  | "REPLY_MALFORMED" // a line that does not match the profile
  | "LINE_TOO_LONG"
  | "FLOODED" // bytes come faster than any instrument has reason to send, or are not taken by it
  | "WRONG_INSTRUMENT" // identity does not match
  | "INSTRUMENT_ERROR" // the instrument said so itself
  | "OUT_OF_SEQUENCE" // a reading is missing or repeated
  | "WATCHDOG_TRIPPED" // the I/O block dropped its outputs
  | "PROFILE_INVALID";

export class DriverError extends Error {
  readonly code: DriverErrorCode;
  /** The instrument or port it is about, by its station-file name. */
  readonly instrument: string;
  constructor(code: DriverErrorCode, instrument: string, message: string, options?: { cause?: unknown }) {
    super(message, options);
    this.name = "DriverError";
    this.code = code;
    this.instrument = instrument;
  }
}

/** What a cable carries to the driver. */
export interface ByteHandlers {
  /** @param at_s monotonic time at which the bytes were taken from the machine */
  bytes(chunk: Buffer, at_s: number): void;
  /** Once, when the connection ended, whoever ended it. */
  closed(error: DriverError): void;
}

/** A way to reach an instrument, in bytes. Each connect makes a fresh connection with fresh buffers. */
export interface ByteTransport {
  /** For people: "/dev/ttyUSB0 at 115200 baud", "10.0.0.7:4001". */
  readonly description: string;
  connect(handlers: ByteHandlers): Promise<ByteConnection>;
}

/** Single use: once closed it stays closed, and a late write throws instead of waiting for the next open. */
export interface ByteConnection {
  readonly isOpen: boolean;
  /** @throws DriverError PORT_LOST when the connection is not open */
  send(bytes: Buffer): void;
  close(): Promise<void>;
}

export interface ConnectionHandlers {
  /** One whole line, terminator removed, latin1. @param at_s when its last bytes came */
  line(text: string, at_s: number): void;
  /** A line that could not be framed (over-long, idle rest); the buffer was dropped. */
  refused(raw: string, error: DriverError): void;
  /** Once, when the connection ended, whoever ended it. */
  closed(error: DriverError): void;
}

/** A way to reach an instrument, in lines; over bytes it is a LineTransport. */
export interface Transport {
  readonly description: string;
  connect(handlers: ConnectionHandlers): Promise<Connection>;
}

/** Single use, as the byte connection below it. */
export interface Connection {
  readonly isOpen: boolean;
  /**
   * Sends one line; the transport adds the terminator.
   * @throws DriverError PORT_LOST when the connection is not open
   */
  send(text: string): void;
  close(): Promise<void>;
}

/** The instrument's end of a cable, as simulated instruments see it, whatever carries it. Bytes as latin1 text. */
export interface FarEnd {
  send(bytes: string): void;
  onBytes(handler: (bytes: string) => void): void;
  /** Hangs up, as a pulled cable does. */
  hangUp(): void;
}

export type Quality = "good" | "over-range" | "invalid";

/** One value of one channel, in SI, with the monotonic time it arrived (or was taken, if the gauge says). */
export interface Reading {
  readonly channel: string;
  readonly t_s: number;
  readonly value: number;
  readonly quality: Quality;
  readonly sequence?: number;
}

export interface GaugeListener {
  /** All channels of one line. */
  readings(readings: readonly Reading[]): void;
  /** The gauge can't be trusted any more until it is connected again. Called at most once per connect. */
  fault(error: DriverError): void;
}

export interface Gauge {
  readonly name: string;
  /** Channel names this gauge delivers, in the profile's order. */
  readonly channels: readonly string[];
  /** What the instrument said of itself at the last connect, "" if the profile asks nothing. */
  readonly identity: string;
  /** The last lines said and heard, kept over a reconnect. */
  readonly conversation: Conversation;
  /** Opens a fresh connection and checks the identity. @throws DriverError */
  connect(): Promise<void>;
  /** One fresh reading of every channel, taken after the call. @throws DriverError */
  read(): Promise<readonly Reading[]>;
  /** Readings as they come (streaming) or at the profile's poll interval, until the returned stop is called. */
  watch(listener: GaugeListener): () => void;
  close(): Promise<void>;
  /** Nothing that takes several questions is under way; absent where nothing does. */
  readonly isAtRest?: boolean | undefined;
  /** What earlier lines have left behind that later readings depend on; absent where they depend on nothing. */
  memory?(): GaugeMemory;
  /** Goes on as a gauge that had this memory, at the beginning of a line: for playing back a conversation. */
  resume?(memory: GaugeMemory): void;
}

/** Numbers by name; only the gauge that gave them knows what they mean. */
export type GaugeMemory = Readonly<Record<string, number>>;

/** Levels by name. Outputs: source, isolate, vent, motor and one per orifice. Inputs: guard (closed), start (pressed). */
export type Levels = Readonly<Record<string, boolean>>;

export interface Outputs {
  readonly name: string;
  /** What the instrument said of itself at the last connect. */
  readonly identity: string;
  readonly conversation: Conversation;
  connect(): Promise<void>;
  /** Resolves once the I/O block confirmed all of them; the others stay as they are. @throws DriverError */
  set(levels: Levels): Promise<void>;
  close(): Promise<void>;
}

export interface InputsListener {
  levels(levels: Levels): void;
  fault(error: DriverError): void;
}

export interface Inputs {
  /** @throws DriverError */
  read(): Promise<Levels>;
  watch(listener: InputsListener): () => void;
}
