import {
  type ByteConnection,
  type ByteHandlers,
  type ByteTransport,
  type Clock,
  DriverError,
} from "../../drivers/ports.ts";
import type { TapeEvent } from "./tape-event.ts";

/** A cable on which every byte, both ways, is told with its time. */
export class TapedCable implements ByteTransport {
  readonly #instrument: string;
  readonly #bytes: ByteTransport;
  readonly #clock: Clock;
  readonly #tell: (event: TapeEvent) => void;

  constructor(instrument: string, bytes: ByteTransport, clock: Clock, tell: (event: TapeEvent) => void) {
    this.#instrument = instrument;
    this.#bytes = bytes;
    this.#clock = clock;
    this.#tell = tell;
  }

  get description(): string {
    return this.#bytes.description;
  }

  async connect(handlers: ByteHandlers): Promise<ByteConnection> {
    const instrument = this.#instrument;
    const tell = this.#tell;
    let connection: ByteConnection;
    try {
      connection = await this.#bytes.connect({
        bytes: (bytes, at_s) => {
          tell({ kind: "heard", t_s: at_s, instrument, bytes });
          handlers.bytes(bytes, at_s);
        },
        closed: (error) => {
          this.#end("lost", error);
          handlers.closed(error);
        },
      });
    } catch (error) {
      if (error instanceof DriverError) this.#end("refused", error);
      throw error;
    }
    tell({ kind: "opened", t_s: this.#clock.now_s(), instrument });
    return {
      get isOpen() {
        return connection.isOpen;
      },
      send: (bytes) => {
        connection.send(bytes);
        tell({ kind: "sent", t_s: this.#clock.now_s(), instrument, bytes });
      },
      close: () => {
        if (connection.isOpen) tell({ kind: "shut", t_s: this.#clock.now_s(), instrument });
        return connection.close();
      },
    };
  }

  #end(kind: "lost" | "refused", { code, message }: DriverError): void {
    this.#tell({ kind, t_s: this.#clock.now_s(), instrument: this.#instrument, code, message });
  }
}
