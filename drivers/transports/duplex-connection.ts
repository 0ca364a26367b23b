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
 * One connection over a byte stream (serial port or socket), from before it is opened to its end. Single use:
 * a write to a stream that is not open would wait there and go out at the next open, as a valve moving late.
 */
export class DuplexConnection implements ByteConnection {
  readonly #options: DuplexConnectionOptions;
  readonly #stream: Duplex;
  readonly #handlers: ByteHandlers;
  #state: "opening" | "open" | "ended" = "opening";
  #reason: string;
  #shutting: Promise<void> | undefined;

  /** Listens at once: a stream nobody reads does not notice that its cable was pulled. */
  constructor(stream: Duplex, options: DuplexConnectionOptions, handlers: ByteHandlers) {
    const { instrument, description } = options;
    this.#stream = stream;
    this.#options = options;
    this.#handlers = handlers;
    this.#reason = `${instrument}: ${description} went away; check its cable and supply.`;
    stream.on("data", (chunk: Buffer) => {
      if (this.#state !== "ended") handlers.bytes(chunk, options.clock.now_s());
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
    this.#stream.write(bytes);
  }

  close(): Promise<void> {
    if (this.#state !== "ended") this.#reason = `The connection to ${this.#options.instrument} was closed.`;
    this.#end();
    return this.#shutting ?? Promise.resolve();
  }

  #end(): void {
    if (this.#state === "ended") return;
    const wasOpen = this.#state === "open";
    this.#state = "ended";
    this.#shutting = this.#options.shut();
    if (wasOpen) this.#handlers.closed(new DriverError("PORT_LOST", this.#options.instrument, this.#reason));
  }
}

/** What a connection that has ended says of a late write. */
export function notSent(instrument: string, bytes: Buffer): DriverError {
  const what = quoteRaw(bytes.toString("latin1").trimEnd());
  return new DriverError("PORT_LOST", instrument, `${instrument} is not connected; ${what} was not sent.`);
}
