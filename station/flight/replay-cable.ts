import {
  type ByteConnection,
  type ByteHandlers,
  type ByteTransport,
  DriverError,
  type DriverErrorCode,
} from "../../drivers/ports.ts";

/** An instrument's cable while a tape is played back: what is heard on it is the tape's, what is sent is held against it. */
export class ReplayCable implements ByteTransport {
  readonly description = "tape";
  readonly #instrument: string;
  #handlers: ByteHandlers | null = null;
  #opening: {
    readonly resolve: (it: ByteConnection) => void;
    readonly reject: (error: DriverError) => void;
  } | null = null;
  #isOpen = false;
  /** Sent and not met on the tape yet. */
  readonly #sent: Buffer[] = [];

  constructor(instrument: string) {
    this.#instrument = instrument;
  }

  get isOpen(): boolean {
    return this.#isOpen;
  }

  get isOpening(): boolean {
    return this.#opening !== null;
  }

  connect(handlers: ByteHandlers): Promise<ByteConnection> {
    this.#handlers = handlers;
    return new Promise((resolve, reject) => {
      this.#opening = { resolve, reject };
    });
  }

  open(): void {
    const { resolve } = this.#opening ?? {};
    this.#opening = null;
    this.#isOpen = true;
    this.#sent.length = 0;
    resolve?.(this.#connection());
  }

  refuse(code: string, message: string): void {
    const { reject } = this.#opening ?? {};
    this.#opening = null;
    reject?.(this.#error(code, message));
  }

  heard(bytes: Buffer, at_s: number): void {
    this.#handlers?.bytes(Buffer.from(bytes), at_s);
  }

  /** The cable's end, whoever ended it; a connection that is closed already has told of it. */
  lost(code: string, message: string): void {
    if (!this.#isOpen) return;
    this.#isOpen = false;
    this.#handlers?.closed(this.#error(code, message));
  }

  /** @returns whether these bytes were sent; each counts once */
  meet(bytes: Buffer): boolean {
    const at = this.#sent.findIndex((sent) => sent.equals(bytes));
    if (at >= 0) this.#sent.splice(at, 1);
    return at >= 0;
  }

  #connection(): ByteConnection {
    const cable = this;
    return {
      get isOpen() {
        return cable.#isOpen;
      },
      send(bytes) {
        if (!cable.#isOpen)
          throw cable.#error(
            "PORT_LOST",
            `Nothing can be sent to ${cable.#instrument}: it is not connected.`,
          );
        cable.#sent.push(Buffer.from(bytes));
      },
      async close() {
        cable.lost("PORT_LOST", `The connection to ${cable.#instrument} was closed.`);
      },
    };
  }

  #error(code: string, message: string): DriverError {
    return new DriverError(code as DriverErrorCode, this.#instrument, message);
  }
}
