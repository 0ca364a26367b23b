import type { Levels } from "../../drivers/ports.ts";
import { LINE_BAD_DAYS, LineInstrument } from "./line-instrument.ts";
import type { InstrumentOptions } from "./plugged-instrument.ts";

export const OUTPUT_NAMES = [
  "source",
  "isolate",
  "vent",
  "motor",
  "orifice_1",
  "orifice_2",
  "orifice_3",
  "orifice_4",
] as const;

/** What the block drops its outputs to: only the vent is open. */
export const SAFE_OUTPUTS: Levels = Object.fromEntries(OUTPUT_NAMES.map((name) => [name, name === "vent"]));

export interface IoOptions extends InstrumentOptions {
  /** The outputs have changed, all in one step. */
  readonly drive: (levels: Levels) => void;
  readonly inputs: () => { readonly guard: boolean; readonly start: boolean };
  /** Bad days of what hangs on the block: valves, contactor, source. */
  readonly plantBadDays: readonly string[];
  readonly plantDay: (badDay: string | null) => void;
}

const WATCHDOG_s = 1;
const LATENCY_s = 0.001;

/** Outputs and inputs asked line by line, with a watchdog that drops the outputs when no command has come for a second. */
export class AsciiIoBlock extends LineInstrument {
  readonly badDays: readonly string[];
  readonly #options: IoOptions;
  #levels: Levels = SAFE_OUTPUTS;
  #hasTripped = false;
  #lastCommand_s: number;
  #isWatching = false;

  constructor(options: IoOptions) {
    super(options, "\r\n");
    this.#options = options;
    this.badDays = [
      ...LINE_BAD_DAYS,
      "outputs_not_taken",
      "watchdog_trips",
      "deaf",
      "start_stuck",
      ...options.plantBadDays,
    ];
    this.#lastCommand_s = this.clock.now_s();
  }

  /** Levels at the terminals now. */
  get outputs(): Levels {
    return this.#levels;
  }

  /** What a command does, whichever way it came. @returns the answer */
  obey(command: string): string {
    const [verb = "", ...words] = command.split(/\s+/);
    return this.#obey(verb, words);
  }

  /** Keeps the watchdog quiet for another second. */
  quieten(): void {
    this.#lastCommand_s = this.clock.now_s();
  }

  protected override receive(command: string): void {
    if (this.badDay === "deaf") return;
    this.quieten();
    const answer = this.obey(command);
    this.answerAfter(LATENCY_s, () => answer);
  }

  protected override dayChanged(badDay: string | null): void {
    this.#options.plantDay(badDay !== null && this.#options.plantBadDays.includes(badDay) ? badDay : null);
    if (badDay === "watchdog_trips") this.#trip();
  }

  #obey(verb: string, words: readonly string[]): string {
    switch (verb) {
      case "ID?":
        return this.badDay === "wrong_identity"
          ? "ID=ASCII-METER;SN=0099;FW=1.0"
          : "ID=ASCII-IO;SN=0001;FW=1.0";
      case "SET":
        return this.#set(words);
      case "GET":
        return this.#state();
      case "BEAT":
        return "OK";
      case "RESET":
        this.#hasTripped = false;
        return "OK";
      default:
        return "ERR COMMAND";
    }
  }

  #set(words: readonly string[]): string {
    if (this.#hasTripped) return "ERR WATCHDOG";
    const wanted: Record<string, boolean> = { ...this.#levels };
    for (const word of words) {
      const match = /^([a-z0-9_]+)=([01])$/.exec(word);
      const name = match?.[1];
      if (name === undefined || !(name in SAFE_OUTPUTS)) return "ERR NAME";
      wanted[name] = match?.[2] === "1";
    }
    if (words.length === 0) return "ERR NAME";
    if (this.badDay !== "outputs_not_taken") this.#change(wanted);
    this.#watch();
    return "OK";
  }

  #state(): string {
    const bit = (level: boolean | undefined) => (level ? "1" : "0");
    const outputs = OUTPUT_NAMES.map((name) => `${name}=${bit(this.#levels[name])}`).join(" ");
    const { guard, start } = this.#options.inputs();
    const isDown = start || this.badDay === "start_stuck";
    return `OUT ${outputs} IN guard=${bit(guard)} start=${bit(isDown)} WD=${bit(this.#hasTripped)}`;
  }

  #change(levels: Levels): void {
    this.#levels = levels;
    this.#options.drive(levels);
  }

  /** One timer at a time, set anew when it finds that commands have come since. */
  #watch(): void {
    if (this.#isWatching) return;
    this.#isWatching = true;
    const wait = () => {
      const left_s = this.#lastCommand_s + WATCHDOG_s - this.clock.now_s();
      this.clock.setTimeout(check, Math.max(0, left_s) * 1000);
    };
    const check = () => {
      if (this.#isSafe()) {
        this.#isWatching = false;
      } else if (this.clock.now_s() - this.#lastCommand_s >= WATCHDOG_s - 1e-9) {
        this.#isWatching = false;
        this.#trip();
      } else {
        wait();
      }
    };
    wait();
  }

  #trip(): void {
    if (this.#isSafe() && this.badDay !== "watchdog_trips") return;
    this.#hasTripped = true;
    this.#change(SAFE_OUTPUTS);
  }

  #isSafe(): boolean {
    return OUTPUT_NAMES.every((name) => this.#levels[name] === SAFE_OUTPUTS[name]);
  }
}
