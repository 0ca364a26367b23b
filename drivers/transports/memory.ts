import { type Framing, frame, LineFramer } from "../framing.ts";
import {
  type Clock,
  type Connection,
  type ConnectionHandlers,
  DriverError,
  type FarEnd,
  type Transport,
} from "../ports.ts";

export interface MemoryTransportOptions {
  readonly instrument: string;
  readonly framing: Framing;
  readonly clock: Clock;
  /**
   * Gets the instrument's end of each new connection. Hanging up before it returns means that nobody is there:
   * the connect is refused.
   */
  readonly attach: (far: FarEnd) => void;
}

/**
 * A cable inside the process. Bytes go through the same framing as on a real port and arrive in the order sent,
 * in the same turn of the event loop but never inside the call that sent them, so that a run repeats exactly.
 */
export class MemoryTransport implements Transport {
  readonly description = "simulated cable";
  readonly #options: MemoryTransportOptions;

  constructor(options: MemoryTransportOptions) {
    this.#options = options;
  }

  async connect(handlers: ConnectionHandlers): Promise<Connection> {
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

class MemoryCable implements Connection {
  readonly far: FarEnd;
  readonly #instrument: string;
  readonly #framing: Framing;
  readonly #framer: LineFramer;
  readonly #handlers: ConnectionHandlers;
  readonly #toNear: Queue;
  readonly #toFar: Queue;
  #farHandler: ((bytes: string) => void) | undefined;
  #open = true;
  #connected = false;

  constructor(options: MemoryTransportOptions, handlers: ConnectionHandlers) {
    this.#instrument = options.instrument;
    this.#framing = options.framing;
    this.#handlers = handlers;
    this.#framer = new LineFramer(options.instrument, options.clock, options.framing, handlers);
    this.#toNear = new Queue((bytes) => {
      if (this.#open) this.#framer.push(Buffer.from(bytes, "latin1"));
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

  send(text: string): void {
    if (!this.#open) {
      const message = `${this.#instrument} is not connected; ${JSON.stringify(text)} was not sent.`;
      throw new DriverError("PORT_LOST", this.#instrument, message);
    }
    if (this.#framing.dropRestBeforeSend) this.#framer.dropRest();
    this.#toFar.add(frame(text, this.#framing).toString("latin1"));
  }

  async close(): Promise<void> {
    this.#end(`The connection to ${this.#instrument} was closed.`);
  }

  #end(message: string): void {
    if (!this.#open) return;
    this.#open = false;
    this.#framer.close();
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
