import type { Duplex } from "node:stream";
import { type Framing, frame, LineFramer } from "../framing.ts";
import { type Clock, type Connection, type ConnectionHandlers, DriverError } from "../ports.ts";

export interface DuplexConnectionOptions {
  readonly instrument: string;
  readonly description: string;
  readonly framing: Framing;
  readonly clock: Clock;
  /** Ends the stream for good; resolves once the port is free again. */
  readonly shut: () => Promise<void>;
}

/**
 * One connection over a byte stream (serial port or socket), from before it is opened to its end. Single use:
 * a write to a stream that is not open would wait there and go out at the next open, as a valve moving late.
 */
export class DuplexConnection implements Connection {
  readonly #options: DuplexConnectionOptions;
  readonly #stream: Duplex;
  readonly #framer: LineFramer;
  readonly #handlers: ConnectionHandlers;
  #state: "opening" | "open" | "ended" = "opening";
  #reason: string;
  #shutting: Promise<void> | undefined;

  /** Listens at once: a stream nobody reads does not notice that its cable was pulled. */
  constructor(stream: Duplex, options: DuplexConnectionOptions, handlers: ConnectionHandlers) {
    const { instrument, description } = options;
    this.#stream = stream;
    this.#options = options;
    this.#handlers = handlers;
    this.#framer = new LineFramer(instrument, options.clock, options.framing, handlers);
    this.#reason = `${instrument}: ${description} went away; check its cable and supply.`;
    stream.on("data", (chunk: Buffer) => {
      if (this.#state !== "ended") this.#framer.push(chunk);
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
    this.#framer.close();
  }

  send(text: string): void {
    const { instrument, framing } = this.#options;
    if (this.#state !== "open" || !this.#stream.writable) {
      const message = `${instrument} is not connected; ${JSON.stringify(text)} was not sent.`;
      throw new DriverError("PORT_LOST", instrument, message);
    }
    if (framing.dropRestBeforeSend) this.#framer.dropRest();
    this.#stream.write(frame(text, framing));
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
    this.#framer.close();
    this.#shutting = this.#options.shut();
    if (wasOpen) this.#handlers.closed(new DriverError("PORT_LOST", this.#options.instrument, this.#reason));
  }
}
