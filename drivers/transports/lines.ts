import { type Framing, frame, LineFramer } from "../framing.ts";
import type {
  ByteConnection,
  ByteTransport,
  Clock,
  Connection,
  ConnectionHandlers,
  Transport,
} from "../ports.ts";

export interface LineTransportOptions {
  readonly instrument: string;
  readonly framing: Framing;
  readonly clock: Clock;
  readonly bytes: ByteTransport;
}

/** Lines over whatever carries bytes. */
export class LineTransport implements Transport {
  readonly #options: LineTransportOptions;

  constructor(options: LineTransportOptions) {
    this.#options = options;
  }

  get description(): string {
    return this.#options.bytes.description;
  }

  /** @throws DriverError as the byte transport does */
  async connect(handlers: ConnectionHandlers): Promise<Connection> {
    const { instrument, clock, framing, bytes } = this.#options;
    const framer = new LineFramer(instrument, clock, framing, handlers);
    try {
      const connection = await bytes.connect({
        bytes: (chunk, at_s) => framer.push(chunk, at_s),
        closed: (error) => {
          framer.close();
          handlers.closed(error);
        },
      });
      return new LineConnection(connection, framer, framing);
    } catch (error) {
      framer.close();
      throw error;
    }
  }
}

class LineConnection implements Connection {
  readonly #bytes: ByteConnection;
  readonly #framer: LineFramer;
  readonly #framing: Framing;

  constructor(bytes: ByteConnection, framer: LineFramer, framing: Framing) {
    this.#bytes = bytes;
    this.#framer = framer;
    this.#framing = framing;
  }

  get isOpen(): boolean {
    return this.#bytes.isOpen;
  }

  send(text: string): void {
    if (this.#framing.dropRestBeforeSend) this.#framer.dropRest();
    this.#bytes.send(frame(text, this.#framing));
  }

  async close(): Promise<void> {
    this.#framer.close();
    await this.#bytes.close();
  }
}
