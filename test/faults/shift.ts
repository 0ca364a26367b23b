import { DriverError } from "../../drivers/ports.ts";
import type { ModelLimits } from "../../limits/model.ts";
import { Population, type SimulatedUnit } from "../../sim/population.ts";
import { type RandomStream, randomStream } from "../../sim/random.ts";
import { StationPlant } from "../../sim/station-plant.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import type { LoadedStation } from "../../station/load-station.ts";
import { NOBODY } from "../../station/people/person.ts";
import { RecordError } from "../../station/records/record-error.ts";
import type { RunningStation } from "../../station/wiring.ts";
import { type CampaignStations, drawVariant, type StationVariant } from "./campaign-station.ts";
import {
  drawFaults,
  type Fault,
  falsifiesAirflow,
  faultText,
  type PlannedFault,
  touchesPlant,
} from "./fault-plan.ts";
import type { DiskState } from "./modelled-disk.ts";
import { type CrashKind, Platter } from "./platter.ts";
import { type CableTap, type Machine, Program } from "./program.ts";
import { isWellWithin, noRisks, type RiskCounts, weigh } from "./risk.ts";
import { type Violation, Witness } from "./witness.ts";

export interface ShiftResult {
  readonly seed: number;
  readonly variant: StationVariant;
  /** What was drawn, and whether it came to it. */
  readonly faults: readonly string[];
  /** Kinds of those that it came to. */
  readonly struck: readonly string[];
  readonly violations: readonly Violation[];
  readonly story: readonly string[];
  readonly risks: RiskCounts;
  readonly counts: Readonly<Record<Count, number>>;
}

export type Count =
  | "attempts"
  | "pass"
  | "fail"
  | "void"
  | "programs"
  | "crashes"
  | "faults"
  | "holds"
  | "simulated_s";

export const RECORDS = "/line/records";
const LOOK_EVERY_ms = 100;
/** Nothing the station does of itself takes longer. */
const LONGEST_WAIT_s = 300;

/** One seed's world: machine, disk, plant, line, and what goes wrong with them while an inspector works. */
export class Shift {
  readonly seed: number;
  readonly world = new VirtualClock();
  readonly plant: StationPlant;
  readonly limits: ModelLimits;
  readonly witness: Witness;
  readonly variant: StationVariant;
  readonly random: RandomStream;
  readonly risks = noRisks();
  readonly violations: Violation[] = [];
  readonly story: string[] = [];
  readonly counts: Record<Count, number> = {
    attempts: 0,
    pass: 0,
    fail: 0,
    void: 0,
    programs: 0,
    crashes: 0,
    faults: 0,
    holds: 0,
    simulated_s: 0,
  };
  readonly units: SimulatedUnit[] = [];
  readonly population: Population;
  readonly #loaded: LoadedStation;
  readonly #plan: PlannedFault[];
  readonly #struck = new Set<PlannedFault>();
  readonly #machine: Machine;
  readonly #disk: DiskState;
  #program: Program | null = null;
  #phases = 0;
  #crashAt: { operation: number; how: CrashKind } | null = null;
  #sticky: { readonly part: number; readonly around_Pa: number } | null = null;
  /** Faults of the plant that are, or were, at work since the test began. */
  #plantTouched = false;
  #airflowFalse = false;
  #isOver = false;

  constructor(seed: number, stations: CampaignStations) {
    this.seed = seed;
    this.variant = drawVariant(randomStream(seed, "variant"));
    this.random = randomStream(seed, "inspector");
    this.#loaded = stations.load(this.variant);
    const [model] = this.#loaded.models;
    if (!model) throw new Error("The campaign's station has no model.");
    this.limits = model.limits;
    this.plant = new StationPlant({ clock: this.world, seed, models: [this.limits] });
    this.population = new Population({ seed, models: [this.limits] });
    const platter = new Platter();
    this.#disk = {
      platter,
      random: randomStream(seed, "disk"),
      trouble: null,
      accident: null,
      operations: 0,
      before: () => this.#beforeOperation(),
    };
    this.#machine = {
      world: this.world,
      wall: { offset_ms: 0 },
      plant: this.plant,
      disk: this.#disk,
      recordsFolder: RECORDS,
    };
    const badDays = new Map(
      [...this.plant.instruments].map(([name, { badDays }]) => [name, badDays] as const),
    );
    this.#plan = drawFaults(randomStream(seed, "faults"), badDays).filter(
      // Nothing would ever find it.
      ({ fault }) => this.variant.pieces !== "none" || fault.kind !== "leak_gauge_sticky",
    );
    const violated = (violation: Violation) => this.violated(violation);
    const { plant, limits } = this;
    this.witness = new Witness({
      clock: this.world,
      plant,
      platter,
      recordsFolder: RECORDS,
      limits,
      violated,
    });
    this.#lookLater();
  }

  get station(): RunningStation["station"] | null {
    return this.#program?.running?.station ?? null;
  }

  get state(): string {
    return this.station?.state() ?? "no program";
  }

  get platter(): Platter {
    return this.#disk.platter;
  }

  /** Reads and opens what is on the disk, as the machine starts the program again. @returns whether it is open */
  async open(): Promise<boolean> {
    const program = new Program(this.#machine);
    this.#program = program;
    this.counts.programs++;
    this.tell("program starts");
    const tap: CableTap = {
      connected: (name) => name === "leak_gauge" && this.witness.leakGaugeConnected(),
      reached: (name) => name === "io_block" && this.witness.commanded(),
      toStation: (name, text) => (name === "leak_gauge" ? this.#leakGaugeText(text) : text),
    };
    const opening = program.open(this.#loaded, tap).then(
      (running) => ({ running }),
      (error: unknown) => ({ error }),
    );
    const opened = await this.within(Promise.race([opening, program.ended.then(() => null)]), "opening");
    if (opened === null || !program.isRunning) return false;
    if ("error" in opened) {
      this.#couldNotOpen(opened.error);
      this.#endProgram("kill");
      return false;
    }
    this.#listen(program, opened.running);
    for (const { traveller } of opened.running.interrupted)
      this.tell(`found interrupted: ${traveller.serial}`);
    program.act(({ station }) => station.signIn(NOBODY));
    return true;
  }

  /** Something somebody does at the station. */
  act(deed: (station: RunningStation["station"]) => void): void {
    this.#program?.act(({ station }) => deed(station));
  }

  /** Ends the program in good order, as a signal does. */
  async stop(): Promise<void> {
    const program = this.#program;
    const running = program?.running;
    if (!program || !running) return;
    this.tell("program is told to end");
    program.act(({ station }) => station.abortForStop());
    await this.until(() => !program.isRunning || running.station.state() !== "testing", "ending the test");
    const closing = new Promise<void>((resolve, reject) => {
      program.act(() => running.close().then(resolve, reject));
    });
    await this.within(
      Promise.race([closing, program.ended]).catch((error: unknown) => this.#strange("closing", error)),
      "closing",
    );
    if (program.isRunning) this.#endProgram("kill");
    this.tell("program has ended");
  }

  /** Everything that is wrong is put right, but for a gauge that only a reference piece finds. */
  heal(): void {
    for (const instrument of this.plant.instruments.values()) instrument.misbehave(null);
    this.plant.guard(true);
    this.plant.releaseStart();
    this.#disk.trouble = null;
    this.#disk.accident = null;
    this.#crashAt = null;
    this.#isOver = true;
    this.#days.clear();
    this.#machine.wall.offset_ms = 0;
    this.tell("everything is put right");
  }

  /** @returns whether the leak gauge was sticky */
  mendGauge(): boolean {
    const wasSticky = this.#sticky !== null;
    this.#sticky = null;
    return wasSticky;
  }

  get isGaugeSticky(): boolean {
    return this.#sticky !== null;
  }

  tell(sentence: string): void {
    this.story.push(`${this.world.now_s().toFixed(3).padStart(9)} ${sentence}`);
  }

  violated(violation: Violation): void {
    this.violations.push(violation);
    this.tell(`VIOLATION ${violation.invariant}: ${violation.text}`);
  }

  pause(seconds: number): Promise<void> {
    return new Promise((resolve) => {
      this.world.setTimeout(() => resolve(), seconds * 1000);
    });
  }

  /** Waits for something the station does of itself. @returns false where it never came */
  async until(isSo: () => boolean, what: string, longest_s = LONGEST_WAIT_s): Promise<boolean> {
    const end_s = this.world.now_s() + longest_s;
    while (!isSo()) {
      if (this.world.now_s() >= end_s) {
        if (longest_s === LONGEST_WAIT_s) {
          this.violated({ invariant: "station hangs", text: `${what}: ${this.state} for ${longest_s} s` });
        }
        return false;
      }
      await this.pause(LOOK_EVERY_ms / 1000);
    }
    return true;
  }

  async within<T>(happening: Promise<T>, what: string): Promise<T | null> {
    let settled: { value: T } | null = null;
    void happening.then((value) => {
      settled = { value };
    });
    await this.until(() => settled !== null, what);
    return (settled as { value: T } | null)?.value ?? null;
  }

  result(): ShiftResult {
    const { seed, variant, violations, story, risks, counts } = this;
    const faults = this.#plan.map(
      (it) => `${faultText(it.fault)}${this.#struck.has(it) ? "" : " (did not come to it)"}`,
    );
    counts.attempts = this.witness.begun.length;
    counts.simulated_s = this.world.now_s();
    const struck = [...this.#struck].map(({ fault }) => (fault.kind === "bad_day" ? fault.day : fault.kind));
    return { seed, variant, faults, struck, violations, story, risks, counts };
  }

  #listen(program: Program, { station }: RunningStation): void {
    const heard = <A extends unknown[]>(listener: (...args: A) => void) => {
      return (...args: A) => {
        if (program.isRunning) listener(...args);
      };
    };
    station.listen({
      started: heard(({ serial, number }) => {
        this.tell(`started: ${serial} attempt ${number}`);
        this.witness.started(serial, number);
        this.#plantTouched = this.#isPlantTouchedNow();
        this.#airflowFalse = false;
        this.#followDays();
      }),
      phase: heard((_, phase) => {
        this.tell(`phase ${phase}`);
        this.witness.phase(phase);
        this.#strikeIn(this.#phases++);
      }),
      refused: heard((serial, reasons) =>
        this.tell(`refused ${serial}: ${reasons.map(({ code }) => code).join(" ")}`),
      ),
      finished: heard((finished) => {
        const { serial, verdict, reasons, attempt } = finished.traveller;
        const codes = reasons.map(({ code }) => ` ${code}`).join("");
        this.tell(`${verdict}: ${serial} attempt ${attempt.number}${codes}`);
        this.counts[verdict]++;
        const mounted = this.plant.unit;
        this.witness.finished(finished, mounted);
        if (mounted) this.#weigh(finished.traveller, mounted);
      }),
      held: heard(({ units }) => {
        this.counts.holds++;
        this.tell(`held: ${units.map(({ serial }) => serial).join(" ")}`);
      }),
      faulted: heard((reasons) => this.tell(`station stopped: ${reasons.map(({ code }) => code).join(" ")}`)),
      recovered: heard(() => this.tell("recovered")),
      warned: heard(() => this.tell("warned")),
    });
  }

  #weigh(traveller: Parameters<typeof weigh>[0], mounted: SimulatedUnit): void {
    if (traveller.reference) return;
    // What a gauge that reads wrong lets pass is not the test's to find, but the reference check's.
    const isFalse = (name: string) => (name === "leak rate" ? this.#sticky !== null : this.#airflowFalse);
    const counts = this.#sticky || this.#airflowFalse ? noRisks() : this.risks;
    for (const { characteristic, text } of weigh(traveller, mounted, this.limits, counts)) {
      if (!isFalse(characteristic)) this.violated({ invariant: "pass of a bad unit", text });
    }
    if (traveller.verdict !== "fail" || this.#plantTouched || this.#sticky) return;
    if (!isWellWithin(mounted, this.limits)) return;
    const why = traveller.reasons.map(({ code, sentence }) => `${code} (${sentence})`).join(", ");
    this.violated({ invariant: "sound unit failed", text: `${traveller.serial}: ${why}` });
  }

  #strikeIn(phase: number): void {
    for (const planned of this.#plan) {
      if (planned.phase !== phase || this.#struck.has(planned)) continue;
      this.#struck.add(planned);
      this.world.setTimeout(() => !this.#isOver && this.#strike(planned.fault), planned.after_s * 1000);
    }
  }

  #strike(fault: Fault): void {
    this.tell(`FAULT ${faultText(fault)}`);
    this.counts.faults++;
    if (touchesPlant(fault)) this.#plantTouched = true;
    switch (fault.kind) {
      case "bad_day":
        this.#badDay(fault);
        break;
      case "leak_gauge_sticky": {
        const step = this.limits.steps.find(({ kind }) => kind === "leak");
        this.#sticky = { part: fault.part, around_Pa: step?.kind === "leak" ? step.testPressure_Pa : 0 };
        break;
      }
      case "guard_opened":
        this.plant.guard(false);
        this.witness.guardWasOpen(fault.for_s);
        this.world.setTimeout(() => this.plant.guard(true), fault.for_s * 1000);
        break;
      case "abort":
        this.act((station) => station.abort());
        break;
      case "start_pressed":
        this.plant.pressStart(fault.for_s);
        break;
      case "clock_put":
        this.#machine.wall.offset_ms += Math.round(fault.by_s * 1000);
        break;
      case "held_up":
        this.#program?.clock.holdUp(fault.for_s);
        break;
      case "disk": {
        const { trouble } = fault;
        this.#disk.trouble = trouble;
        this.world.setTimeout(() => {
          if (this.#disk.trouble === trouble) this.#disk.trouble = null;
        }, fault.for_s * 1000);
        break;
      }
      case "write":
        this.#disk.accident = fault.accident;
        break;
      case "stopped":
        void this.stop();
        break;
      case "crash":
        if (fault.afterOperations === null) this.#crash(fault.how);
        else this.#crashAt = { operation: this.#disk.operations + fault.afterOperations + 1, how: fault.how };
        break;
    }
  }

  readonly #days = new Map<string, Fault & { kind: "bad_day" }>();

  #badDay(fault: Fault & { kind: "bad_day" }): void {
    const instrument = this.plant.instruments.get(fault.instrument);
    this.#days.set(fault.instrument, fault);
    instrument?.misbehave(fault.day);
    this.#followDays();
    this.world.setTimeout(() => {
      if (this.#days.get(fault.instrument) !== fault) return;
      this.#days.delete(fault.instrument);
      instrument?.misbehave(null);
    }, fault.for_s * 1000);
  }

  #followDays(): void {
    for (const fault of this.#days.values()) if (falsifiesAirflow(fault)) this.#airflowFalse = true;
  }

  #isPlantTouchedNow(): boolean {
    return [...this.#days.values()].some(touchesPlant);
  }

  #beforeOperation(): void {
    if (this.#crashAt && this.#disk.operations >= this.#crashAt.operation) this.#crash(this.#crashAt.how);
  }

  #crash(how: CrashKind): void {
    this.#crashAt = null;
    if (!this.#program?.isRunning) return;
    this.tell(`CRASH (${how}) in ${this.state}`);
    this.counts.crashes++;
    this.#endProgram(how);
  }

  #endProgram(how: CrashKind): void {
    const program = this.#program;
    this.#program = null;
    this.witness.programEnded();
    program?.crash(how);
  }

  #couldNotOpen(error: unknown): void {
    const why = error instanceof Error ? error.message : String(error);
    this.tell(`could not open: ${why.slice(0, 200)}`);
    if (error instanceof RecordError && (error.code === "CORRUPT" || error.code === "FOLDER_IN_USE")) {
      this.violated({ invariant: "records refused", text: why });
    } else this.#strange("opening", error);
  }

  /** An error that has no sentence for the people at the station is a mistake of the program. */
  #strange(doing: string, error: unknown): void {
    if (error instanceof RecordError || error instanceof DriverError || isReason(error)) return;
    const text = error instanceof Error ? (error.stack ?? error.message) : String(error);
    this.violated({ invariant: "program fault", text: `${doing}: ${text}` });
  }

  #leakGaugeText(text: string): string {
    this.witness.leakGaugeSent(text);
    const sticky = this.#sticky;
    if (!sticky) return text;
    return text.replace(/P=([+-]\d+\.\d\d)/, (whole, digits: string) => {
      const off_Pa = Number(digits) - sticky.around_Pa;
      // Only where the fill has arrived.
      if (Math.abs(off_Pa) > Math.abs(sticky.around_Pa) * 0.15) return whole;
      const shown_Pa = sticky.around_Pa + off_Pa * sticky.part;
      return `P=${shown_Pa < 0 ? "-" : "+"}${Math.abs(shown_Pa).toFixed(2)}`;
    });
  }

  #lookLater(): void {
    this.world.setTimeout(() => {
      const isTesting = this.state === "testing" && this.#program?.clock.isHeldUp === false;
      this.witness.look(isTesting);
      this.#lookLater();
    }, LOOK_EVERY_ms);
  }
}

function isReason(error: unknown): boolean {
  return typeof error === "object" && error !== null && "code" in error && "sentence" in error;
}
