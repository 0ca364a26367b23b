import type { Duplex } from "node:stream";
import { type ByteConnection, type ByteHandlers, type Clock, DriverError } from "../ports.ts";
import { quoteRaw } from "../raw-line.ts";

export interface DuplexConnectionOptions {
  readonly instrument: string;
  readonly description: string;
  readonly clock: Clock;
  /** Ends the stream for good; resolves once the port is free again. */
  readonly shut: () => Promise<void>;
}

/**
 * More in one second is no instrument's: a thousand lines a second are some 25 kB, and a busy program that catches up on ten
 * seconds of them gets 250 kB at once. Whoever sends more would take the processor from everything else.
 */
const MOST_bytes_s = 1_000_000;
/** Questions go out one by one, so that this much waits only where the far end takes nothing any more. */
const MOST_UNSENT_bytes = 4096;

/**
 * One connection over a byte stream (serial port or socket), from before it is opened to its end. Single use:
 * a write to a stream that is not open would wait there and go out at the next open, as a valve moving late.
 */
export class DuplexConnection implements ByteConnection {
  readonly #options: DuplexConnectionOptions;
  readonly #stream: Duplex;
  readonly #handlers: ByteHandlers;
  #state: "opening" | "open" | "ended" = "opening";
  #reason: string;
  #second_s = Number.NEGATIVE_INFINITY;
  #inSecond_bytes = 0;
  #shutting: Promise<void> | undefined;

  /** Listens at once: a stream nobody reads does not notice that its cable was pulled. */
  constructor(stream: Duplex, options: DuplexConnectionOptions, handlers: ByteHandlers) {
    const { instrument, description } = options;
    this.#stream = stream;
    this.#options = options;
    this.#handlers = handlers;
    this.#reason = `${instrument}: ${description} went away; check its cable and supply.`;
    stream.on("data", (chunk: Buffer) => {
      if (this.#state === "ended") return;
      const at_s = options.clock.now_s();
      if (this.#isFlooded(chunk.length, at_s)) this.#flooded("sends far more than any instrument has to say");
      else handlers.bytes(chunk, at_s);
    });
    stream.on("error", (error: Error) => this.lost(error.message));
    // 'close' may come twice, and without an 'error' before it.
    stream.on("close", () => this.#end());
    stream.on("end", () => this.#end());
  }

  get isOpen(): boolean {
    return this.#state === "open";
  }

  /** To be called once the stream is open. */
  opened(): void {
    if (this.#state === "opening") this.#state = "open";
  }

  /** To be called when it is found to have gone, if the stream itself does not tell. */
  lost(why: string): void {
    const { instrument, description } = this.#options;
    if (this.#state !== "ended")
      this.#reason = `${instrument}: ${description} was lost (${why}); check its cable and supply.`;
    this.#end();
  }

  /** To be called when it could not be opened; nothing is reported then. */
  abandoned(): void {
    this.#state = "ended";
  }

  send(bytes: Buffer): void {
    const { instrument } = this.#options;
    if (this.#state !== "open" || !this.#stream.writable) throw notSent(instrument, bytes);
    if (this.#stream.writableLength + bytes.length > MOST_UNSENT_bytes) {
      this.#flooded(`takes nothing any more, ${this.#stream.writableLength} bytes wait to be sent`);
      throw notSent(instrument, bytes);
    }
    this.#stream.write(bytes);
  }

  close(): Promise<void> {
    if (this.#state !== "ended") this.#reason = `The connection to ${this.#options.instrument} was closed.`;
    this.#end();
    return this.#shutting ?? Promise.resolve();
  }

  #isFlooded(bytes: number, at_s: number): boolean {
    if (at_s - this.#second_s >= 1) {
      this.#second_s = at_s;
      this.#inSecond_bytes = 0;
    }
    this.#inSecond_bytes += bytes;
    return this.#inSecond_bytes > MOST_bytes_s;
  }

  #flooded(what: string): void {
    const { instrument, description } = this.#options;
    this.#reason = `${instrument}: ${description} ${what}; check that it is the instrument that belongs there, and how often it is set to send.`;
    this.#end("FLOODED");
  }

  #end(code: "PORT_LOST" | "FLOODED" = "PORT_LOST"): void {
    if (this.#state === "ended") return;
    const wasOpen = this.#state === "open";
    this.#state = "ended";
    this.#shutting = this.#options.shut();
    if (wasOpen) this.#handlers.closed(new DriverError(code, this.#options.instrument, this.#reason));
  }
}

/** What a connection that has ended says of a late write. */
export function notSent(instrument: string, bytes: Buffer): DriverError {
  const what = quoteRaw(bytes.toString("latin1").trimEnd());
  return new DriverError("PORT_LOST", instrument, `${instrument} is not connected; ${what} was not sent.`);
}
