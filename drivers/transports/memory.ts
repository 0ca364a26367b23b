import {
  type ByteConnection,
  type ByteHandlers,
  type ByteTransport,
  type Clock,
  DriverError,
  type FarEnd,
} from "../ports.ts";
import { notSent } from "./duplex-connection.ts";

export interface MemoryTransportOptions {
  readonly instrument: string;
  readonly clock: Clock;
  /**
   * Gets the instrument's end of each new connection. Hanging up before it returns means that nobody is there:
   * the connect is refused.
   */
  readonly attach: (far: FarEnd) => void;
}

/**
 * A cable inside the process. Bytes arrive in the order sent,
 * in the same turn of the event loop but never inside the call that sent them, so that a run repeats exactly.
 */
export class MemoryTransport implements ByteTransport {
  readonly description = "simulated cable";
  readonly #options: MemoryTransportOptions;

  constructor(options: MemoryTransportOptions) {
    this.#options = options;
  }

  async connect(handlers: ByteHandlers): Promise<ByteConnection> {
    const cable = new MemoryCable(this.#options, handlers);
    this.#options.attach(cable.far);
    if (!cable.isOpen) {
      const { instrument } = this.#options;
      throw new DriverError(
        "PORT_MISSING",
        instrument,
        `${instrument} is not there: the simulated cable is unplugged; put it back.`,
      );
    }
    cable.settle();
    return cable;
  }
}

class MemoryCable implements ByteConnection {
  readonly far: FarEnd;
  readonly #instrument: string;
  readonly #handlers: ByteHandlers;
  readonly #toNear: Queue;
  readonly #toFar: Queue;
  #farHandler: ((bytes: string) => void) | undefined;
  #open = true;
  #connected = false;

  constructor(options: MemoryTransportOptions, handlers: ByteHandlers) {
    this.#instrument = options.instrument;
    this.#handlers = handlers;
    this.#toNear = new Queue((bytes) => {
      if (this.#open) handlers.bytes(Buffer.from(bytes, "latin1"), options.clock.now_s());
    });
    this.#toFar = new Queue((bytes) => {
      if (this.#open) this.#farHandler?.(bytes);
    });
    this.far = {
      send: (bytes) => {
        if (this.#open) this.#toNear.add(bytes);
      },
      onBytes: (handler) => {
        this.#farHandler = handler;
      },
      hangUp: () => this.#end(`${this.#instrument} was unplugged; put its cable back.`),
    };
  }

  get isOpen(): boolean {
    return this.#open;
  }

  /** From here on an end is reported as the end of a connection, not as a refused connect. */
  settle(): void {
    this.#connected = true;
  }

  send(bytes: Buffer): void {
    if (!this.#open) throw notSent(this.#instrument, bytes);
    this.#toFar.add(bytes.toString("latin1"));
  }

  async close(): Promise<void> {
    this.#end(`The connection to ${this.#instrument} was closed.`);
  }

  #end(message: string): void {
    if (!this.#open) return;
    this.#open = false;
    if (this.#connected) this.#handlers.closed(new DriverError("PORT_LOST", this.#instrument, message));
  }
}

const SETTLED = Promise.resolve();

/** Hands over what was added, in order, in a microtask. */
class Queue {
  readonly #deliver: (bytes: string) => void;
  #waiting: string[] = [];

  constructor(deliver: (bytes: string) => void) {
    this.#deliver = deliver;
  }

  add(bytes: string): void {
    this.#waiting.push(bytes);
    if (this.#waiting.length > 1) return;
    // Cheaper than queueMicrotask, which makes an async resource for each.
    void SETTLED.then(() => {
      const batch = this.#waiting;
      this.#waiting = [];
      for (const bytes of batch) this.#deliver(bytes);
    });
  }
}
