import {
  type Clock,
  DriverError,
  type DriverErrorCode,
  type Gauge,
  type Reading,
} from "../../drivers/ports.ts";

/** All channels of one line, as they came. */
export interface WatchedLine {
  readonly t_s: number;
  readonly readings: readonly Reading[];
}

export interface WatchCounts {
  /** Lines that gave readings. */
  readonly lines: number;
  /** Of single values, good ones left out. */
  readonly overRange: number;
  readonly invalid: number;
  /** Readings that a jump of the counter says are missing. */
  readonly missing: number;
  readonly faults: ReadonlyMap<DriverErrorCode, number>;
  readonly reconnects: number;
  readonly longestGap_s: number;
}

export interface GaugeWatchOptions {
  readonly gauge: Gauge;
  readonly clock: Clock;
  readonly signal: AbortSignal;
  /** Lines older than this are forgotten. */
  readonly keep_s: number;
  /** Connected, or why not any more. */
  readonly changed?: (fault: DriverError | null) => void;
}

const AGAIN_s = { first: 0.3, longest: 2 };

/**
 * Watches one gauge as the station would, and goes on after a fault over a fresh connection. Readings alone are asked
 * for; of outputs it knows nothing.
 */
export class GaugeWatch {
  readonly #options: GaugeWatchOptions;
  readonly #lines: WatchedLine[] = [];
  readonly #faults = new Map<DriverErrorCode, number>();
  #kept = 0;
  #count = 0;
  #overRange = 0;
  #invalid = 0;
  #missing = 0;
  #reconnects = 0;
  #longestGap_s = 0;
  #last_s: number | null = null;
  #fault: DriverError | null = null;
  #wake: () => void = () => {};

  constructor(options: GaugeWatchOptions) {
    this.#options = options;
    options.signal.addEventListener("abort", () => this.#wake());
  }

  /**
   * Watches until the signal.
   * @throws DriverError where the very first connect finds no port, or one that somebody else has
   */
  async run(): Promise<void> {
    const { gauge, signal } = this.#options;
    let wait_s = AGAIN_s.first;
    for (let isFirst = true; !signal.aborted; isFirst = false) {
      try {
        await gauge.connect();
        if (!isFirst) this.#reconnects++;
        this.#options.changed?.(null);
        const before = this.#count;
        const fault = await this.#watchOnce();
        if (fault) this.#note(fault);
        wait_s = this.#count > before ? AGAIN_s.first : Math.min(AGAIN_s.longest, wait_s * 2);
      } catch (error) {
        if (!(error instanceof DriverError)) throw error;
        if (isFirst && ["PORT_MISSING", "PORT_BUSY"].includes(error.code)) throw error;
        this.#note(error);
        wait_s = Math.min(AGAIN_s.longest, wait_s * 2);
      }
      if (!signal.aborted) await this.#pause(wait_s);
    }
    await gauge.close();
  }

  /** The lines kept, oldest first. */
  lines(): readonly WatchedLine[] {
    return this.#kept === 0 ? this.#lines : this.#lines.slice(this.#kept);
  }

  /** Why it is not connected; null while it is. */
  get fault(): DriverError | null {
    return this.#fault;
  }

  get counts(): WatchCounts {
    return {
      lines: this.#count,
      overRange: this.#overRange,
      invalid: this.#invalid,
      missing: this.#missing,
      faults: this.#faults,
      reconnects: this.#reconnects,
      longestGap_s: this.#longestGap_s,
    };
  }

  /** @returns what ended it, null for the signal */
  #watchOnce(): Promise<DriverError | null> {
    const { gauge } = this.#options;
    this.#fault = null;
    this.#last_s = null;
    return new Promise((resolve) => {
      const stop = gauge.watch({
        readings: (readings) => this.#take(readings),
        fault: (error) => resolve(error),
      });
      this.#wake = () => {
        stop();
        resolve(null);
      };
      if (this.#options.signal.aborted) this.#wake();
    });
  }

  #take(readings: readonly Reading[]): void {
    const now_s = this.#options.clock.now_s();
    const t_s = readings[0]?.t_s ?? now_s;
    this.#count++;
    for (const { quality } of readings) {
      if (quality === "over-range") this.#overRange++;
      if (quality === "invalid") this.#invalid++;
    }
    if (this.#last_s !== null) this.#longestGap_s = Math.max(this.#longestGap_s, t_s - this.#last_s);
    this.#last_s = t_s;
    this.#lines.push({ t_s, readings });
    while ((this.#lines[this.#kept]?.t_s ?? t_s) < t_s - this.#options.keep_s) this.#kept++;
    // Moved down rarely, not at every line of a fast gauge.
    if (this.#kept > 1000 && this.#kept > this.#lines.length / 2) {
      this.#lines.splice(0, this.#kept);
      this.#kept = 0;
    }
  }

  #note(fault: DriverError): void {
    this.#fault = fault;
    this.#faults.set(fault.code, (this.#faults.get(fault.code) ?? 0) + 1);
    this.#missing += missingIn(fault);
    this.#options.changed?.(fault);
  }

  #pause(time_s: number): Promise<void> {
    const { clock } = this.#options;
    return new Promise((resolve) => {
      const timer = clock.setTimeout(() => resolve(), time_s * 1000);
      this.#wake = () => {
        clock.clearTimeout(timer);
        resolve();
      };
    });
  }
}

/** The driver says how many in its sentence. */
function missingIn({ code, message }: DriverError): number {
  if (code !== "OUT_OF_SEQUENCE") return 0;
  return Number(/(\d+) readings? (?:is|are) missing/.exec(message)?.[1] ?? 0);
}
