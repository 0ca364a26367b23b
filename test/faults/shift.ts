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
import { Colleague } from "./colleague.ts";
import type { Marginal, Stress } from "./fault-plan.ts";
import { Naming } from "./naming.ts";
import { type CrashKind, Platter } from "./platter.ts";
import { type CableTap, type Machine, Program } from "./program.ts";
import { isWellWithin, noRisks, type RiskCounts, weigh } from "./risk.ts";
import { Troubles } from "./troubles.ts";
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
  | "holds_by_hand"
  | "simulated_s";

export const RECORDS = "/line/records";
const MARGINAL: Marginal = { part: 0.15, least: 0.98, most: 1.07 };
const LOOK_EVERY_ms = 100;
/** Nothing the station does of itself takes longer. */
const LONGEST_WAIT_s = 300;

/** The station will not work on these records any more, and must not: the shift ends. */
export class RightlyRefused extends Error {}

/** One seed's world: machine, disk, plant, line, and what goes wrong with them while an inspector works. */
export class Shift {
  readonly seed: number;
  readonly world = new VirtualClock();
  readonly plant: StationPlant;
  readonly limits: ModelLimits;
  readonly witness: Witness;
  readonly variant: StationVariant;
  /** Of the station's heads. */
  readonly publicKey: string;
  readonly random: RandomStream;
  readonly marginal: Marginal;
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
    holds_by_hand: 0,
    simulated_s: 0,
  };
  readonly units: SimulatedUnit[] = [];
  readonly population: Population;
  readonly #loaded: LoadedStation;
  readonly troubles: Troubles;
  readonly colleague: Colleague;
  readonly recordsFolder = RECORDS;
  readonly #naming: Naming;
  readonly #machine: Machine;
  #program: Program | null = null;

  constructor(seed: number, stations: CampaignStations, stress: Stress | null) {
    this.seed = seed;
    this.marginal = stress?.marginal ?? MARGINAL;
    this.variant = drawVariant(randomStream(seed, "variant"));
    this.random = randomStream(seed, "inspector");
    this.#loaded = stations.load(this.variant);
    this.publicKey = stations.publicKey;
    const [model] = this.#loaded.models;
    if (!model) throw new Error("The campaign's station has no model.");
    this.limits = model.limits;
    this.plant = new StationPlant({ clock: this.world, seed, models: [this.limits] });
    this.population = new Population({ seed, models: [this.limits] });
    const platter = new Platter();
    const wall = { offset_ms: 0 };
    const disk = {
      platter,
      random: randomStream(seed, "disk"),
      trouble: null,
      accident: null,
      unread: null,
      operations: 0,
      before: () => this.troubles.beforeOperation(),
    };
    this.colleague = new Colleague(this, disk);
    this.#machine = { world: this.world, wall, plant: this.plant, disk, recordsFolder: RECORDS };
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
    this.#naming = new Naming(() => this.world.now_s(), violated);
    this.troubles = new Troubles({
      seed,
      stress,
      variant: this.variant,
      limits,
      world: this.world,
      wall,
      plant,
      disk,
      tell: (sentence) => this.tell(sentence),
      program: {
        abort: () => this.act((station) => station.abort()),
        stop: () => void this.stop(),
        crash: (how) => this.#crash(how),
        holdUp: (seconds) => this.#program?.clock.holdUp(seconds),
      },
      guardOpened: (for_s) => this.witness.guardWasOpen(for_s),
      naming: this.#naming,
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
    return this.#machine.disk.platter;
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
      toStation: (name, text) => (name === "leak_gauge" ? this.#fromLeakGauge(text) : text),
    };
    const opening = program.open(this.#loaded, tap).then(
      (running) => ({ running }),
      (error: unknown) => ({ error }),
    );
    const opened = await this.within(Promise.race([opening, program.ended.then(() => null)]), "opening");
    if (opened === null || !program.isRunning) return false;
    if ("error" in opened) {
      this.#endProgram("kill");
      this.#couldNotOpen(opened.error);
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

  /** @returns what it came to */
  end(): ShiftResult {
    this.platter.discard();
    const { seed, variant, violations, story, risks, counts } = this;
    const { described, struckKinds } = this.troubles;
    counts.attempts = this.witness.begun.length;
    counts.simulated_s = this.world.now_s();
    counts.faults = struckKinds.length;
    return { seed, variant, faults: described, struck: struckKinds, violations, story, risks, counts };
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
        this.colleague.sawStart(serial, number);
        this.#naming.testBegan();
        this.troubles.testBegan();
      }),
      phase: heard((_, phase) => {
        this.tell(`phase ${phase}`);
        this.witness.phase(phase);
        this.#naming.phase(phase);
        this.troubles.phaseBegan(phase);
      }),
      refused: heard((serial, reasons) =>
        this.tell(`refused ${serial}: ${reasons.map(({ code }) => code).join(" ")}`),
      ),
      finished: heard((finished) => {
        const { serial, verdict, reasons, attempt } = finished.traveller;
        const codes = reasons.map(({ code }) => ` ${code}`).join("");
        this.tell(`${verdict}: ${serial} attempt ${attempt.number}${codes}`);
        this.counts[verdict]++;
        this.#naming.testEnded(verdict === "pass" ? serial : null);
        const mounted = this.plant.unit;
        this.witness.finished(finished, mounted);
        this.colleague.sawVerdict(finished);
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
    const { isGaugeCreeping, isGaugeStepped, isAirflowFalse, isPlantTouched } = this.troubles;
    // What a gauge that reads wrong lets pass is not the test's to find, but the reference check's.
    const isFalse = (name: string) => (name === "leak rate" ? isGaugeCreeping : isAirflowFalse);
    const counts = isGaugeCreeping || isGaugeStepped || isAirflowFalse ? noRisks() : this.risks;
    for (const { characteristic, text } of weigh(traveller, mounted, this.limits, counts)) {
      if (!isFalse(characteristic)) this.violated({ invariant: "pass of a bad unit", text });
    }
    if (traveller.verdict !== "fail" || isPlantTouched) return;
    if (!isWellWithin(mounted, this.limits)) return;
    const why = traveller.reasons.map(({ code, sentence }) => `${code} (${sentence})`).join(", ");
    this.violated({ invariant: "sound unit failed", text: `${traveller.serial}: ${why}` });
  }

  #crash(how: CrashKind): void {
    if (!this.#program?.isRunning) return;
    this.tell(`CRASH (${how}) in ${this.state}`);
    this.counts.crashes++;
    this.#endProgram(how);
  }

  #endProgram(how: CrashKind): void {
    const program = this.#program;
    this.#program = null;
    this.witness.programEnded();
    this.#naming.testEnded(null);
    program?.crash(how);
    if (how === "power") this.colleague.powerCut();
  }

  #couldNotOpen(error: unknown): void {
    const why = error instanceof Error ? error.message : String(error);
    this.tell(`could not open: ${why.slice(0, 200)}`);
    if (error instanceof RecordError && this.#wasNeverReadBack(error)) throw new RightlyRefused(why);
    if (error instanceof RecordError && (error.code === "CORRUPT" || error.code === "FOLDER_IN_USE")) {
      this.violated({ invariant: "records refused", text: why });
    } else this.#strange("opening", error);
  }

  /** What the disk has made of a file that its program could not look at any more: nothing else can be known of it. */
  #wasNeverReadBack({ code, path }: RecordError): boolean {
    const { unread, platter } = this.#machine.disk;
    return code === "CORRUPT" && unread !== null && platter.nodeAt(path) === unread.file;
  }

  /** An error that has no sentence for the people at the station is a mistake of the program. */
  #strange(doing: string, error: unknown): void {
    if (error instanceof RecordError || error instanceof DriverError || isReason(error)) return;
    const text = error instanceof Error ? (error.stack ?? error.message) : String(error);
    this.violated({ invariant: "program fault", text: `${doing}: ${text}` });
  }

  #fromLeakGauge(text: string): string {
    this.witness.leakGaugeSent(text);
    return this.troubles.leakGaugeText(text);
  }

  #lookLater(): void {
    this.world.setTimeout(() => {
      const isTesting = this.state === "testing" && this.#program?.clock.isHeldUp === false;
      this.witness.look(isTesting);
      if (isTesting) this.#naming.look();
      this.#lookLater();
    }, LOOK_EVERY_ms);
  }
}

function isReason(error: unknown): boolean {
  return typeof error === "object" && error !== null && "code" in error && "sentence" in error;
}
