import type { ModelLimits } from "../../limits/model.ts";
import type { SimulatedUnit } from "../../sim/population.ts";
import type { StationPlant } from "../../sim/station-plant.ts";
import type { VirtualClock } from "../../sim/virtual-clock.ts";
import type { FinishedAttempt } from "../../station/recording.ts";
import { canonicalText, sha256Hex } from "../../station/records/chain.ts";
import { RecordFiles, RecordUnreadable } from "./kept-records.ts";
import { incompleteEvidence } from "./pass-evidence.ts";
import type { Platter } from "./platter.ts";
import { holdsMissing } from "./record-checks.ts";
import type { Told } from "./told.ts";

/** What must never happen, by a short name. */
export type Invariant =
  | "pass of a bad unit"
  | "pass without evidence"
  | "fault not named"
  | "verdict not on disk"
  | "attempt lost or doubled"
  | "outputs not safe"
  | "outputs driven outside a test"
  | "unit left dangerous"
  | "chain broken"
  | "index differs"
  | "audit finds"
  | "unit not on hold"
  | "held unit let through"
  | "retest rule broken"
  | "station not proven"
  | "sound unit failed"
  | "records refused"
  | "station hangs"
  | "program fault";

export interface Violation {
  readonly invariant: Invariant;
  readonly text: string;
}

interface Begun {
  readonly serial: string;
  readonly number: number;
  readonly at_s: number;
  /** An output has left its safe level for it: from then on it must have a traveller. */
  isDriven: boolean;
  /** Things seen since that leave no room for a pass. */
  readonly spoilt: string[];
}

/** Phases in which the body is to be under pressure or the motor to run. */
const ACTIVE: ReadonlySet<string> = new Set(["fill", "settle", "measure", "run_up", "hold"]);
/** A guard is looked at every few hundredths of a second; shorter openings may go unseen. */
const GUARD_SEEN_s = 0.3;
/** The I/O block's watchdog takes a second; what the station does itself takes less. */
const SAFE_WITHIN_s = 2.5;
/** What a body that counts as vented may still hold: the limit files say 100 Pa, by a gauge with its own error. */
const VENTED_Pa = 400;
/** A motor without current draws nothing; its fan may still run down. */
const SWITCHED_OFF_W = 20;

export interface WitnessParts {
  readonly clock: VirtualClock;
  readonly plant: StationPlant;
  readonly platter: Platter;
  readonly recordsFolder: string;
  readonly limits: ModelLimits;
  readonly violated: (violation: Violation) => void;
}

/** Looks on from outside: at plant, cables and disk, and at what the station tells. */
export class Witness {
  readonly #parts: WitnessParts;
  readonly #files = new RecordFiles();
  readonly begun: Begun[] = [];
  /** Verdicts told, in order. */
  readonly told: Told[] = [];
  #current: Begun | null = null;
  #phase = "";
  /** At the I/O block's terminals, as of the last command. */
  #levels = "";
  #unsafeSince_s: number | null = null;
  #lastNumber: number | null = null;

  constructor(parts: WitnessParts) {
    this.#parts = parts;
  }

  started(serial: string, number: number): void {
    this.#current = { serial, number, at_s: this.#now_s, isDriven: false, spoilt: [] };
    this.#phase = "";
    this.begun.push(this.#current);
  }

  phase(name: string): void {
    this.#phase = name;
  }

  /** The program has ended: whatever was under test is not any more. */
  programEnded(): void {
    this.#current = null;
    this.#phase = "";
  }

  /** A command has reached the I/O block. */
  commanded(): void {
    const { plant, violated } = this.#parts;
    const levels = levelsText(plant);
    const hasChanged = levels !== this.#levels;
    this.#levels = levels;
    if (plant.isSafe) return;
    if (this.#current) this.#current.isDriven = true;
    // An ended program's levels may stand until the block's watchdog drops them.
    else if (hasChanged) violated({ invariant: "outputs driven outside a test", text: levels });
  }

  guardWasOpen(for_s: number): void {
    if (for_s >= GUARD_SEEN_s) this.#spoil("the guard was open");
  }

  leakGaugeConnected(): void {
    this.#lastNumber = null;
  }

  /** A line of the leak gauge that goes to the station. */
  leakGaugeSent(text: string): void {
    const at = text.indexOf("N=");
    const number = at < 0 ? Number.NaN : Number(text.slice(at + 2, at + 8));
    if (!Number.isInteger(number)) return;
    const missing = this.#lastNumber !== null && (number - this.#lastNumber + 1e6) % 1e6 !== 1;
    this.#lastNumber = number;
    if (missing && this.#phase === "measure") this.#spoil("a reading of the leak gauge went missing");
  }

  /** @param isTesting whether a test may be driving outputs now */
  look(isTesting: boolean): void {
    const { plant, violated } = this.#parts;
    if (plant.isSafe) {
      this.#unsafeSince_s = null;
      if (this.#current?.isDriven && this.#phase === "measure") this.#spoil("the outputs were dropped");
      return;
    }
    if (isTesting) {
      this.#unsafeSince_s = null;
      return;
    }
    this.#unsafeSince_s ??= this.#now_s;
    if (this.#now_s - this.#unsafeSince_s <= SAFE_WITHIN_s) return;
    violated({
      invariant: "outputs not safe",
      text: `${levelsText(plant)} for ${SAFE_WITHIN_s} s, and no test runs`,
    });
    this.#unsafeSince_s = Number.POSITIVE_INFINITY;
  }

  /** A verdict is being told. */
  finished(finished: FinishedAttempt, mounted: SimulatedUnit | null): Told {
    const { traveller } = finished;
    const text = canonicalText(traveller);
    const told: Told = { traveller, sha256: sha256Hex(text), at_s: this.#now_s };
    this.told.push(told);
    this.#checkOnDisk(finished, text);
    if (traveller.verdict === "pass") this.#checkPass(traveller, mounted);
    if (traveller.verdict !== "void") this.#checkLeft();
    this.#checkHolds();
    this.#current = null;
    this.#phase = "";
    return told;
  }

  #checkHolds(): void {
    const { platter, recordsFolder, violated } = this.#parts;
    try {
      for (const text of holdsMissing(this.#files.read(platter.files(recordsFolder, true)))) {
        violated({ invariant: "unit not on hold", text: `when a verdict was told: ${text}` });
      }
    } catch (error) {
      // Thrown on, it would be the station that hears of it.
      if (!(error instanceof RecordUnreadable)) throw error;
      violated({ invariant: "chain broken", text: error.message });
    }
  }

  #checkOnDisk({ path, traveller }: FinishedAttempt, text: string): void {
    const { platter, violated } = this.#parts;
    const what = `${traveller.verdict} of ${traveller.serial} attempt ${traveller.attempt.number}`;
    const durable = platter.durableText(path);
    if (durable === undefined)
      violated({ invariant: "verdict not on disk", text: `${what}: a power cut now would lose it` });
    else if (durable !== text)
      violated({ invariant: "verdict not on disk", text: `${what}: another text is on disk` });
    if (this.told.some((one) => one.sha256 === sha256Hex(text) && one.at_s < this.#now_s)) {
      violated({ invariant: "attempt lost or doubled", text: `${what} was told twice` });
    }
  }

  #checkPass(traveller: FinishedAttempt["traveller"], mounted: SimulatedUnit | null): void {
    const { limits, violated } = this.#parts;
    const what = `${traveller.serial} attempt ${traveller.attempt.number}`;
    const problems = [...incompleteEvidence(traveller, limits), ...(this.#current?.spoilt ?? [])];
    if (mounted?.serial !== traveller.serial)
      problems.push(`${mounted?.serial ?? "nothing"} was on the fixture`);
    if (this.#current?.isDriven !== true) problems.push("no output was driven for it");
    for (const problem of problems) {
      violated({ invariant: "pass without evidence", text: `${what}: ${problem}` });
    }
  }

  /** What whoever opens the guard now would find; a fault tells of it, a pass or fail does not. */
  #checkLeft(): void {
    const { plant, violated } = this.#parts;
    if (Math.abs(plant.gas.pressure_Pa) > VENTED_Pa) {
      violated({
        invariant: "unit left dangerous",
        text: `${plant.gas.pressure_Pa.toFixed(0)} Pa in the body`,
      });
    }
    if (plant.air.power_W > SWITCHED_OFF_W) {
      violated({
        invariant: "unit left dangerous",
        text: `the motor draws ${plant.air.power_W.toFixed(0)} W`,
      });
    }
  }

  #spoil(how: string): void {
    if (this.#current && ACTIVE.has(this.#phase) && !this.#current.spoilt.includes(how)) {
      this.#current.spoilt.push(how);
    }
  }

  get #now_s(): number {
    return this.#parts.clock.now_s();
  }
}

function levelsText(plant: StationPlant): string {
  const on = Object.entries(plant.outputs).filter(([name, level]) => level !== (name === "vent"));
  return on.map(([name, level]) => `${name} ${level ? "on" : "off"}`).join(", ");
}
