import type { SpokenLine } from "../drivers/conversation.ts";
import {
  type Clock,
  DriverError,
  type Gauge,
  type Inputs,
  type Levels,
  type Outputs,
  type Reading,
} from "../drivers/ports.ts";
import { formatQuantity } from "../limits/print-quantity.ts";
import type { Reason } from "./cycle/reason.ts";
import type { Ambient, UnitEvent } from "./cycle/unit-context.ts";
import { SAFE_LEVELS } from "./cycle/unit-orders.ts";
import { instrumentFault } from "./cycle/unit-reasons.ts";
import { createWatcher, type Observation } from "./cycle/watchers.ts";
import { LIKELY_ROOM } from "./room-entry.ts";
import { StartButton } from "./start-button.ts";

export interface FixtureParts {
  readonly clock: Clock;
  readonly gauges: readonly Gauge[];
  readonly outputs: Outputs;
  readonly inputs: Inputs;
  /** Outputs that open the plenum's orifices. */
  readonly orificeOutputs: readonly string[];
  /** Text that must be in what a gauge says of itself, by gauge name: the right kind on the wrong port is still wrong. */
  readonly expectedIdentity: ReadonlyMap<string, string>;
}

export interface FixtureListener {
  guard(isClosed: boolean): void;
  /** The start button went down, and had been up since `expectStart`. */
  startPressed(): void;
  /**
   * The start button has been down for longer than any press: said once it has, and again every few seconds until
   * it is up. Of no concern to a running test; a station that waits must stop.
   */
  startStuck(reason: Reason): void;
  fault(reason: Reason): void;
}

/** What was last said between the station and one instrument, oldest first. */
export interface InstrumentConversation {
  readonly instrument: string;
  readonly lines: readonly SpokenLine[];
  /** Up to the instrument's newest fault, none where it had none: a stream that goes on pushes them out of `lines`. */
  readonly linesBeforeFault: readonly SpokenLine[];
}

/** The instruments of one fixture as the cycle needs them: command levels, watch for an outcome, read the room. */
export class Fixture {
  readonly #parts: FixtureParts;
  /** Orifices too: a program that was killed may have left one open, and its successor keeps the watchdog quiet. */
  readonly #safeLevels: Levels;
  readonly #gaugeOf = new Map<string, Gauge>();
  readonly #newest = new Map<string, Reading>();
  #levels: Levels = {};
  /** Outputs as the I/O block has last confirmed them; null where it has not, or may have lost them since. */
  #confirmed: Levels | null = null;
  /** Why the I/O block is left to its own watchdog since the last connect. */
  #abandoned: unknown = null;
  #start: StartButton | null = null;
  #stopInputs: (() => void) | null = null;

  constructor(parts: FixtureParts) {
    this.#parts = parts;
    const shut = Object.fromEntries(parts.orificeOutputs.map((output) => [output, false]));
    this.#safeLevels = { ...shut, ...SAFE_LEVELS };
    for (const gauge of parts.gauges) for (const channel of gauge.channels) this.#gaugeOf.set(channel, gauge);
  }

  /**
   * Opens fresh connections to everything and commands safe outputs first of all.
   * @throws DriverError of the first instrument that could not be reached; what was opened is closed again
   */
  async connect(listener: FixtureListener): Promise<void> {
    await this.close();
    this.#confirmed = null;
    this.#abandoned = null;
    try {
      await this.#parts.outputs.connect();
      this.#checkIdentity(this.#parts.outputs);
      await this.command(this.#safeLevels);
      for (const gauge of this.#parts.gauges) {
        await gauge.connect();
        this.#checkIdentity(gauge);
      }
      this.#levels = await this.#parts.inputs.read();
    } catch (error) {
      await this.close();
      throw error;
    }
    const start = new StartButton({
      clock: this.#parts.clock,
      ioBlock: this.#parts.outputs.name,
      pressed: () => listener.startPressed(),
      stuck: (reason) => listener.startStuck(reason),
    });
    this.#start = start;
    start.seen(this.#levels.start === true);
    this.#stopInputs = this.#parts.inputs.watch({
      levels: (levels) => {
        const before = this.#levels;
        this.#levels = levels;
        if (before.guard !== levels.guard) listener.guard(levels.guard === true);
        start.seen(levels.start === true);
      },
      fault: (error) => {
        this.#confirmed = null;
        listener.fault(instrumentFault(error));
      },
    });
  }

  /** Whether the I/O block has confirmed safe outputs, and has neither been told otherwise nor been lost since. */
  get areOutputsSafe(): boolean {
    const confirmed = this.#confirmed;
    return Object.entries(this.#safeLevels).every(([output, level]) => confirmed?.[output] === level);
  }

  /** Identity of each gauge as it gave it at the last connect, by gauge name. */
  identities(): ReadonlyMap<string, string> {
    return new Map(this.#parts.gauges.map((gauge) => [gauge.name, gauge.identity]));
  }

  /** The last lines of each instrument, those before a fault included; the I/O block's come last. */
  conversations(): readonly InstrumentConversation[] {
    return [...this.#parts.gauges, this.#parts.outputs].map(({ name, conversation }) => ({
      instrument: name,
      lines: conversation.lines(),
      linesBeforeFault: conversation.linesBeforeFault(),
    }));
  }

  /**
   * To be called when a unit has been armed: from now on a press counts, once the button has been seen up. One that
   * is down already, stuck or pressed too early, starts nothing.
   */
  expectStart(): void {
    this.#start?.expect(async () => (await this.#parts.inputs.read()).start === true);
  }

  /** Why nothing may be started now by any means: the button is down, and it is no press that counts. */
  startRefusal(): Reason | null {
    return this.#start?.refusal() ?? null;
  }

  isGuardClosed(): boolean {
    return this.#levels.guard === true;
  }

  /** Newest reading of a channel, good or not: for the screen, and to know what a body held when a test was broken off. */
  newest(channel: string): Reading | undefined {
    return this.#newest.get(channel);
  }

  /**
   * A block that does not take safe outputs is not spoken to any more until the next connect: hearing nothing, it drops them
   * by itself.
   * @throws DriverError when the I/O block does not confirm
   */
  async command(levels: Levels): Promise<void> {
    if (this.#abandoned) throw this.#abandoned;
    const before = this.#confirmed;
    this.#confirmed = null;
    try {
      await this.#parts.outputs.set(levels);
    } catch (error) {
      if (Object.entries(SAFE_LEVELS).every(([output, level]) => levels[output] === level)) {
        this.#abandoned = error;
        await this.#parts.outputs.close();
      }
      throw error;
    }
    this.#confirmed = { ...before, ...levels };
  }

  /** Safe outputs as far as the I/O block still listens; where it does not, its own watchdog drops them. */
  async makeSafe(): Promise<void> {
    try {
      await this.command(this.#safeLevels);
    } catch (error) {
      if (!(error instanceof DriverError)) throw error;
    }
  }

  /** One fresh value of a channel, SI. @throws DriverError; Error when the gauge says it can't measure */
  async read(channel: string): Promise<number> {
    const gauge = this.#gaugeFor(channel);
    const reading = (await gauge.read()).find((candidate) => candidate.channel === channel);
    if (reading?.quality !== "good") {
      throw new Error(
        `${gauge.name} gives no valid ${channel.replaceAll("_", " ")}; check its sensor and the cable.`,
      );
    }
    this.#newest.set(channel, reading);
    return reading.value;
  }

  /** One fresh reading of every gauge, whatever it shows. @returns what is wrong with the first that does not answer as it should */
  async askGauges(): Promise<Reason | null> {
    for (const gauge of this.#parts.gauges) {
      try {
        await gauge.read();
      } catch (error) {
        return instrumentFault(error);
      }
    }
    return null;
  }

  /** @throws DriverError; Error when a gauge can't measure, or shows what no room has */
  async readAmbient(): Promise<Ambient> {
    const temperature_K = await this.#readLikely("ambient_temperature", LIKELY_ROOM.temperature_K);
    const pressure_Pa = await this.#readLikely("ambient_pressure", LIKELY_ROOM.pressure_Pa);
    const relativeHumidity = await this.#readLikely("ambient_humidity", LIKELY_ROOM.relativeHumidity);
    return { temperature_K, pressure_Pa, relativeHumidity };
  }

  async #readLikely(
    channel: string,
    { least, most, words, dimension, unit }: (typeof LIKELY_ROOM)[keyof typeof LIKELY_ROOM],
  ): Promise<number> {
    const value = await this.read(channel);
    if (value >= least && value <= most) return value;
    const shown = formatQuantity(value, dimension, unit, { significant: 5 });
    throw new Error(
      `${this.#gaugeFor(channel).name} shows ${shown}, expected ${words}; check that instrument and the unit its channel has in its profile.`,
    );
  }

  /**
   * Watches readings for what a phase waits for. Sends OUTCOME or FAULT once.
   * @returns stop; nothing is sent after it
   */
  observe(observation: Observation, send: (event: UnitEvent) => void): () => void {
    const watcher = createWatcher(observation);
    const gauges = new Set(watcher.channels.map((channel) => this.#gaugeFor(channel)));
    const stops: (() => void)[] = [];
    let isOver = false;
    const stop = () => {
      isOver = true;
      for (const stopOne of stops) stopOne();
    };
    const finish = (event: UnitEvent) => {
      if (isOver) return;
      stop();
      send(event);
    };
    const readings = (arrived: readonly Reading[]) => {
      if (isOver) return;
      for (const reading of arrived) this.#newest.set(reading.channel, reading);
      const outcome = watcher.accept(arrived);
      if (outcome?.kind === "untrusted") finish({ type: "FAULT", reason: outcome.reason });
      else if (outcome) finish({ type: "OUTCOME", outcome });
    };
    for (const gauge of gauges) {
      stops.push(
        gauge.watch({
          readings,
          fault: (error) => finish({ type: "FAULT", reason: instrumentFault(error) }),
        }),
      );
    }
    if (isOver) stop();
    return stop;
  }

  /** Tells the listener nothing from here on. */
  stopListening(): void {
    this.#start?.forget();
    this.#start = null;
    this.#stopInputs?.();
    this.#stopInputs = null;
  }

  async close(): Promise<void> {
    this.stopListening();
    for (const gauge of this.#parts.gauges) await gauge.close();
    await this.#parts.outputs.close();
  }

  #checkIdentity(instrument: Gauge | Outputs): void {
    const expected = this.#parts.expectedIdentity.get(instrument.name);
    if (expected === undefined || instrument.identity.includes(expected)) return;
    throw new DriverError(
      "WRONG_INSTRUMENT",
      instrument.name,
      `${instrument.name} answers as ${JSON.stringify(instrument.identity)}, expected was one with ${JSON.stringify(expected)}. Check which instrument is on which port.`,
    );
  }

  #gaugeFor(channel: string): Gauge {
    const gauge = this.#gaugeOf.get(channel);
    if (!gauge) throw new Error(`No gauge of the station delivers ${channel}.`);
    return gauge;
  }
}
