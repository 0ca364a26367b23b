import { type ByteConnection, type ByteTransport, type Clock, DriverError } from "../../drivers/ports.ts";
import type { HeardBytes } from "./heard-bytes.ts";

export interface ListeningOptions {
  readonly clock: Clock;
  readonly signal: AbortSignal;
  /** Sees everything that goes over the cable. */
  readonly passed: (direction: "sent" | "heard", bytes: HeardBytes) => void;
}

const OPEN_TRIES = 8;
const OPEN_AGAIN_s = 0.15;

/**
 * Connects, and tries again for a second where the port is not there or not free: one that was closed just now may
 * need a moment.
 * @throws DriverError of the last try
 */
export async function patiently<T>(clock: Clock, connect: () => Promise<T>): Promise<T> {
  for (let tries = 1; ; tries++) {
    try {
      return await connect();
    } catch (error) {
      const isWorth = error instanceof DriverError && ["PORT_MISSING", "PORT_BUSY"].includes(error.code);
      if (!isWorth || tries >= OPEN_TRIES) throw error;
      await new Promise<void>((resolve) => {
        clock.setTimeout(() => resolve(), OPEN_AGAIN_s * 1000);
      });
    }
  }
}

/** One open port: what comes is kept, waiting ends early when somebody wants to stop or the port goes away. */
export class Listening {
  readonly heard: HeardBytes[] = [];
  readonly #options: ListeningOptions;
  readonly #waiting = new Set<() => void>();
  #connection: ByteConnection | null = null;
  #lost: DriverError | null = null;

  private constructor(options: ListeningOptions) {
    this.#options = options;
    options.signal.addEventListener("abort", this.#wake);
  }

  /** @throws DriverError PORT_MISSING, PORT_BUSY */
  static async open(transport: ByteTransport, options: ListeningOptions): Promise<Listening> {
    const listening = new Listening(options);
    listening.#connection = await patiently(options.clock, () => listening.#connect(transport));
    return listening;
  }

  #connect(transport: ByteTransport): Promise<ByteConnection> {
    return transport.connect({
      bytes: (bytes, at_s) => {
        const heard = { bytes: Buffer.from(bytes), at_s };
        this.heard.push(heard);
        this.#options.passed("heard", heard);
        this.#wake();
      },
      closed: (error) => {
        this.#lost = error;
        this.#wake();
      },
    });
  }

  /** Why the port went away; null while it is open. */
  get lost(): DriverError | null {
    return this.#lost;
  }

  get isOver(): boolean {
    return this.#lost !== null || this.#options.signal.aborted;
  }

  send(bytes: Buffer): void {
    if (this.isOver) return;
    this.#options.passed("sent", { bytes, at_s: this.#options.clock.now_s() });
    this.#connection?.send(bytes);
  }

  /** Waits until this is so, at most for this long. @returns whether it came to be so */
  async until(isSo: () => boolean, atMost_s: number): Promise<boolean> {
    const { clock } = this.#options;
    const end_s = clock.now_s() + atMost_s;
    while (!isSo()) {
      const left_s = end_s - clock.now_s();
      if (left_s <= 0 || this.isOver) return false;
      await this.#next(left_s);
    }
    return true;
  }

  /** Listens for this long. */
  async during(time_s: number): Promise<void> {
    await this.until(() => false, time_s);
  }

  /** Listens until nothing has come for `quiet_s`. */
  async untilQuiet(quiet_s: number, atMost_s: number): Promise<void> {
    const { clock } = this.#options;
    const end_s = clock.now_s() + atMost_s;
    for (;;) {
      const count = this.heard.length;
      const left_s = end_s - clock.now_s();
      if (left_s <= 0) return;
      if (!(await this.until(() => this.heard.length > count, Math.min(quiet_s, left_s)))) return;
    }
  }

  async close(): Promise<void> {
    this.#options.signal.removeEventListener("abort", this.#wake);
    await this.#connection?.close();
  }

  #next(atMost_s: number): Promise<void> {
    const { clock } = this.#options;
    return new Promise((resolve) => {
      const wake = () => {
        clock.clearTimeout(timer);
        this.#waiting.delete(wake);
        resolve();
      };
      const timer = clock.setTimeout(wake, atMost_s * 1000);
      this.#waiting.add(wake);
    });
  }

  readonly #wake = (): void => {
    for (const wake of [...this.#waiting]) wake();
  };
}
