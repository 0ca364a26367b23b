import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { onTestFinished } from "vitest";
import type { SimulatedUnit } from "../../sim/population.ts";
import type { Reason } from "../../station/cycle/reason.ts";
import type { Scan } from "../../station/cycle/scan.ts";
import { NOBODY } from "../../station/people/person.ts";
import type { Traveller } from "../../station/records/traveller.ts";
import { OneByOne } from "../../station/test-one.ts";
import { openSimulatedStation, type SimulatedSetup, type SimulatedStation } from "../../station/wiring.ts";

/** As the demo's limit files ask for between a fail and the retest. */
const PAUSE_s = 30;

export interface Tried {
  /** Null when the attempt was refused or left without a verdict. */
  readonly traveller: Traveller | null;
  readonly refused: readonly Reason[];
  readonly faults: readonly Reason[];
}

/** An inspector at a simulated station in virtual time, inside the test's own process. */
export class SimulatedShift {
  readonly simulated: SimulatedStation;
  readonly #one: OneByOne;
  #refused: Reason[] = [];
  #closing: Promise<void> | undefined;
  #faults: Reason[] = [];

  private constructor(simulated: SimulatedStation) {
    this.simulated = simulated;
    this.#one = new OneByOne(simulated.station);
    simulated.station.listen({
      refused: (_, reasons) => this.#refused.push(...reasons),
      faulted: (reasons) => this.#faults.push(...reasons),
    });
  }

  /** Signed in; closed and cleared away with the test. */
  static async begin(setup: Partial<SimulatedSetup> = {}): Promise<SimulatedShift> {
    const folder = mkdtempSync(join(tmpdir(), "drumtight-shift-"));
    onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
    const simulated = await openSimulatedStation({
      seed: 7,
      pace: "virtual",
      allowDrafts: false,
      recordsFolder: folder,
      onlyModel: "POD-4",
      ...setup,
    });
    const shift = new SimulatedShift(simulated);
    onTestFinished(async () => {
      await shift.close();
    });
    simulated.station.signIn(NOBODY);
    return shift;
  }

  /** Ends the program, once. @returns what another one goes on from, a minute later */
  async close(): Promise<{ readonly recordsFolder: string; readonly startsAt_ms: number }> {
    const { simulated } = this;
    this.#closing ??= simulated.close();
    await this.#closing;
    return { recordsFolder: simulated.recordsFolder, startsAt_ms: simulated.clock.wall_ms() + 60_000 };
  }

  /** Begun, and the reference pieces tested. */
  static async proven(setup: Partial<SimulatedSetup> = {}): Promise<SimulatedShift> {
    const shift = await SimulatedShift.begin(setup);
    await shift.prove();
    return shift;
  }

  /** Tests the reference pieces that are due; a station that stands still is acknowledged first. */
  async prove(): Promise<void> {
    for (const piece of this.simulated.station.dueReferences()) await this.tryBody(piece.serial);
  }

  /**
   * Puts the body with this serial on, scans and starts it.
   * @param more the parts scanned instead of its own, and the number of a retest's reason
   */
  async tryBody(serial: string, more: Partial<Omit<Scan, "serial">> = {}): Promise<Tried> {
    const body = this.simulated.unitOf(serial);
    this.simulated.plant.mount(body);
    return this.#scan({ serial, parts: body?.parts ?? {}, ...more });
  }

  /** Lets a unit that failed cool, and tests it again for the first of the limit file's reasons. */
  async retest(unit: SimulatedUnit): Promise<Tried> {
    await this.pass(PAUSE_s);
    this.simulated.plant.mount(unit);
    return this.#scan({ serial: unit.serial, parts: unit.parts, retestReason: 1 });
  }

  /** Puts a unit of whatever population on, scans and starts it. */
  async tryUnit(unit: SimulatedUnit): Promise<Tried> {
    this.simulated.plant.mount(unit);
    return this.#scan({ serial: unit.serial, parts: unit.parts });
  }

  async #scan(scan: Scan): Promise<Tried> {
    this.#refused = [];
    this.#faults = [];
    const tested = await this.simulated.runUntil(this.#one.test(scan));
    const traveller = tested.kind === "finished" ? tested.finished.traveller : null;
    // A fault that follows a verdict is told right after it.
    await this.pass(0);
    return { traveller, refused: this.#refused, faults: this.#faults };
  }

  /** The first unit of the seed with just these defects. */
  unitWith(...defects: readonly string[]): SimulatedUnit {
    for (let k = 0; k < 500; k++) {
      const unit = this.simulated.population.unitAt(k);
      if (unit.defects.join() === defects.join()) return unit;
    }
    throw new Error(`No unit of the seed has the defects ${defects.join(", ")}.`);
  }

  /** Lets the plant's time pass. */
  pass(seconds: number): Promise<void> {
    const { clock } = this.simulated;
    return this.simulated.runUntil(
      new Promise<void>((resolve) => clock.setTimeout(() => resolve(), seconds * 1000)),
    );
  }

  /** Lets a bad day begin when a test enters this phase, once. @returns whether the phase came */
  strikeIn(phase: string, instrument: string, day: string): () => boolean {
    let struck = false;
    this.simulated.station.listen({
      phase: (_, entered) => {
        if (entered !== phase || struck) return;
        struck = true;
        this.simulated.plant.instruments.get(instrument)?.misbehave(day);
      },
    });
    return () => struck;
  }

  heal(instrument: string): void {
    this.simulated.plant.instruments.get(instrument)?.misbehave(null);
  }
}
