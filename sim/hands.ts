import type { Clock } from "../drivers/ports.ts";
import type { SimulatedUnit } from "./population.ts";
import type { StationPlant } from "./station-plant.ts";

export interface HandsOptions {
  readonly clock: Clock;
  readonly plant: StationPlant;
  /** The next unit off the line, or null when there are no more. */
  readonly next: () => SimulatedUnit | null;
  /** A unit by its serial: one that has come off the line already, a coming one, or a reference piece. */
  readonly find: (serial: string) => SimulatedUnit | null;
  /** What the hands have done of themselves. */
  readonly did: (deed: Deed) => void;
}

/** One deed, for a line of text or of JSON. */
export interface Deed {
  readonly event: "mounted" | "bare" | "guard" | "start" | "bad_day" | "outputs" | "refused" | "quit";
  /** For people. */
  readonly sentence: string;
  readonly serial?: string;
  readonly model?: string;
  /** Of outputs: whether nothing is driven and only the vent is open. */
  readonly safe?: boolean;
}

const LOOK_EVERY_ms = 50;
/** Nothing happens for this long: the cycle is over and not only between two of its steps. */
const QUIET_s = 0.3;
const NEAR_AMBIENT_Pa = 100;
/** The button is pressed again and again, since a press before the station is ready counts for nothing. */
const PRESS_EVERY_s = 0.8;

/** The operator's hands at the simulated station: mount, guard, start, and something broken when asked for. */
export class Hands {
  readonly #options: HandsOptions;
  #isAutomatic = false;
  #timer: unknown;
  #hasRun = false;
  #quietSince_s: number | null = null;
  #pressed_s = Number.NEGATIVE_INFINITY;

  constructor(options: HandsOptions) {
    this.#options = options;
  }

  /**
   * From now on mounts a unit, presses start until the station takes it up, and mounts the next one when the
   * outputs have been active and are safe again, the motor stands, the pressure is gone and that has lasted 0.3 s.
   */
  workAlone(): void {
    if (this.#isAutomatic) return;
    this.#isAutomatic = true;
    this.#mountNext();
    this.#lookLater();
  }

  /** Stops working alone. */
  rest(): void {
    this.#isAutomatic = false;
    this.#options.clock.clearTimeout(this.#timer);
  }

  /** Obeys one line, such as `mount TUB531812` or `bad-day leak_gauge silent`. */
  obey(line: string): Deed {
    const { plant } = this.#options;
    const [verb = "", ...words] = line.trim().split(/\s+/);
    const [first, second] = words;
    if (verb === "mount" && first !== undefined && words.length === 1) return this.#mountSerial(first);
    if (verb === "next" && words.length === 0) return this.#mount(this.#options.next());
    if (verb === "guard" && (first === "open" || first === "close") && words.length === 1) {
      plant.guard(first === "close");
      return { event: "guard", sentence: first === "close" ? "The guard is closed." : "The guard is open." };
    }
    if (verb === "start" && words.length === 0) {
      plant.pressStart();
      return { event: "start", sentence: "Start was pressed." };
    }
    if (verb === "bad-day" && first !== undefined && second !== undefined && words.length === 2) {
      return this.#badDay(first, second);
    }
    if (verb === "outputs" && words.length === 0) return this.#tellOutputs();
    if (verb === "quit" && words.length === 0) return { event: "quit", sentence: "Stopping." };
    return refused(
      `"${line.trim()}" is none of: mount SERIAL, next, guard open|close, start, bad-day INSTRUMENT NAME|none, outputs, quit.`,
    );
  }

  #mountSerial(serial: string): Deed {
    const unit = this.#options.find(serial);
    return unit ? this.#mount(unit) : refused(`No unit or reference piece has the serial ${serial}.`);
  }

  #mount(unit: SimulatedUnit | null): Deed {
    this.#options.plant.mount(unit);
    this.#hasRun = false;
    this.#quietSince_s = null;
    if (!unit) return { event: "bare", sentence: "There are no more units; the fixture is bare." };
    const { serial, model } = unit;
    return { event: "mounted", sentence: `${serial} (${model}) is mounted.`, serial, model };
  }

  #badDay(name: string, day: string): Deed {
    const { instruments } = this.#options.plant;
    const instrument = instruments.get(name);
    if (!instrument) {
      return refused(`There is no instrument ${name}; there are: ${[...instruments.keys()].join(", ")}.`);
    }
    try {
      instrument.misbehave(day === "none" ? null : day);
    } catch (error) {
      if (error instanceof RangeError) return refused(error.message);
      throw error;
    }
    const sentence = day === "none" ? `${name} is well again.` : `${name} has a bad day: ${day}.`;
    return { event: "bad_day", sentence };
  }

  /** As they stand at the I/O block's terminals, whoever commanded them, or nobody any more. */
  #tellOutputs(): Deed {
    const { outputs, isSafe } = this.#options.plant;
    const on = Object.keys(outputs).filter((name) => outputs[name]);
    const which = on.length === 0 ? "none" : on.join(", ");
    return {
      event: "outputs",
      sentence: `Outputs on: ${which}. ${isSafe ? "That is safe." : "That is not safe."}`,
      safe: isSafe,
    };
  }

  #mountNext(): void {
    this.#options.did(this.#mount(this.#options.next()));
  }

  #lookLater(): void {
    this.#timer = this.#options.clock.setTimeout(() => {
      this.#look();
      if (this.#isAutomatic) this.#lookLater();
    }, LOOK_EVERY_ms);
  }

  #look(): void {
    const { plant, clock } = this.#options;
    const now_s = clock.now_s();
    if (!plant.unit) return;
    if (!plant.isSafe) {
      this.#hasRun = true;
      this.#quietSince_s = null;
      plant.releaseStart();
      return;
    }
    if (!this.#hasRun) {
      if (now_s - this.#pressed_s >= PRESS_EVERY_s) {
        this.#pressed_s = now_s;
        plant.pressStart();
      }
      return;
    }
    const isQuiet = plant.motorSpeed === 0 && Math.abs(plant.gas.pressure_Pa) < NEAR_AMBIENT_Pa;
    if (!isQuiet) {
      this.#quietSince_s = null;
      return;
    }
    this.#quietSince_s ??= now_s;
    if (now_s - this.#quietSince_s >= QUIET_s) this.#mountNext();
  }
}

function refused(sentence: string): Deed {
  return { event: "refused", sentence };
}
