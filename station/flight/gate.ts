import type {
  Clock,
  DriverError,
  Gauge,
  GaugeListener,
  GaugeMemory,
  Inputs,
  InputsListener,
  Levels,
  Outputs,
  Reading,
} from "../../drivers/ports.ts";

/** What a driver has for the station. */
export type Passing =
  | { readonly kind: "readings"; readonly readings: readonly Reading[] }
  | { readonly kind: "levels"; readonly levels: Levels }
  | { readonly kind: "fault" }
  /** A call of ours has ended, well or not. */
  | { readonly kind: "ended"; readonly call: Call; readonly id: number; readonly well: boolean };

export type Call = "connect" | "read" | "set";

/**
 * Stands between the drivers and the station. Everything a driver has for the station passes here: a recorder lets it
 * through at once and notes it, a replay holds it until its tape says that it came.
 */
export interface Gate {
  /** The clock this instrument's driver and transport live by. */
  clock(instrument: string): Clock;
  /** Told of each instrument once. */
  knows(instrument: KnownInstrument): void;
  /** Told of whoever watches an I/O block's inputs. */
  watched?(instrument: string, listener: InputsListener): void;
  /** The station asks for a reading, or, with levels, commands outputs. @returns what its end will be told by */
  called(instrument: string, levels: Levels | null): number;
  /** @param go hands it to the station */
  pass(instrument: string, what: Passing, go: () => void): void;
}

/** What a gate may do with an instrument. */
export interface KnownInstrument extends Pick<Gauge, "memory" | "resume"> {
  readonly name: string;
  /** Nothing is under way; undefined where it can't say. */
  readonly isAtRest?: boolean | undefined;
  read(): Promise<unknown>;
  /** Of an I/O block. */
  set?(levels: Levels): Promise<void>;
  /** As `read`, and what comes of it does not pass the gate. */
  readPast(): Promise<unknown>;
}

/** A gauge behind the gate. */
export class GatedGauge implements Gauge {
  readonly #gauge: Gauge;
  readonly #gate: Gate;

  constructor(gauge: Gauge, gate: Gate) {
    this.#gauge = gauge;
    this.#gate = gate;
    gate.knows(this);
  }

  get name() {
    return this.#gauge.name;
  }

  get channels() {
    return this.#gauge.channels;
  }

  get identity() {
    return this.#gauge.identity;
  }

  get conversation() {
    return this.#gauge.conversation;
  }

  connect(): Promise<void> {
    return ended(this.#gate, this.name, { call: "connect", id: 0 }, this.#gauge.connect());
  }

  read(): Promise<readonly Reading[]> {
    const id = this.#gate.called(this.name, null);
    return ended(this.#gate, this.name, { call: "read", id }, this.#gauge.read());
  }

  async readPast(): Promise<unknown> {
    if (this.#gauge.isAtRest === undefined) return this.#gauge.read();
    // A read may go on asking; whoever watches asks once before it looks whether it still does.
    this.#gauge.watch({ readings: () => undefined, fault: () => undefined })();
    return [];
  }

  watch(listener: GaugeListener): () => void {
    let isOver = false;
    const stop = this.#gauge.watch({
      readings: (readings) =>
        this.#gate.pass(this.name, { kind: "readings", readings }, () => {
          if (!isOver) listener.readings(readings);
        }),
      fault: (error) => passFault(this.#gate, this.name, error, (it) => !isOver && listener.fault(it)),
    });
    return () => {
      isOver = true;
      stop();
    };
  }

  close(): Promise<void> {
    return this.#gauge.close();
  }

  get isAtRest() {
    return this.#gauge.isAtRest;
  }

  memory(): GaugeMemory {
    return this.#gauge.memory?.() ?? {};
  }

  resume(memory: GaugeMemory): void {
    this.#gauge.resume?.(memory);
  }
}

type Remembering = Pick<KnownInstrument, "isAtRest" | "memory" | "resume">;

/** An I/O block behind the gate. */
export class GatedIoBlock implements Outputs, Inputs {
  readonly #block: Outputs & Inputs & Remembering;
  readonly #gate: Gate;

  constructor(block: Outputs & Inputs & Remembering, gate: Gate) {
    this.#block = block;
    this.#gate = gate;
    gate.knows(this);
  }

  get name() {
    return this.#block.name;
  }

  get identity() {
    return this.#block.identity;
  }

  get conversation() {
    return this.#block.conversation;
  }

  connect(): Promise<void> {
    return ended(this.#gate, this.name, { call: "connect", id: 0 }, this.#block.connect());
  }

  set(levels: Levels): Promise<void> {
    const id = this.#gate.called(this.name, levels);
    return ended(this.#gate, this.name, { call: "set", id }, this.#block.set(levels));
  }

  read(): Promise<Levels> {
    const id = this.#gate.called(this.name, null);
    return ended(this.#gate, this.name, { call: "read", id }, this.#block.read());
  }

  readPast(): Promise<unknown> {
    return this.#block.read();
  }

  watch(listener: InputsListener): () => void {
    let isOver = false;
    this.#gate.watched?.(this.name, listener);
    const stop = this.#block.watch({
      levels: (levels) =>
        this.#gate.pass(this.name, { kind: "levels", levels }, () => {
          if (!isOver) listener.levels(levels);
        }),
      fault: (error) => passFault(this.#gate, this.name, error, (it) => !isOver && listener.fault(it)),
    });
    return () => {
      isOver = true;
      stop();
    };
  }

  close(): Promise<void> {
    return this.#block.close();
  }

  get isAtRest() {
    return this.#block.isAtRest;
  }

  memory(): GaugeMemory {
    return this.#block.memory?.() ?? {};
  }

  resume(memory: GaugeMemory): void {
    this.#block.resume?.(memory);
  }
}

function passFault(gate: Gate, name: string, error: DriverError, tell: (error: DriverError) => void): void {
  gate.pass(name, { kind: "fault" }, () => tell(error));
}

function ended<T>(
  gate: Gate,
  name: string,
  call: { readonly call: Call; readonly id: number },
  result: Promise<T>,
): Promise<T> {
  return new Promise((resolve, reject) => {
    result.then(
      (value) => gate.pass(name, { kind: "ended", ...call, well: true }, () => resolve(value)),
      (error) => gate.pass(name, { kind: "ended", ...call, well: false }, () => reject(error)),
    );
  });
}
