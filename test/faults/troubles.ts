import type { ModelLimits } from "../../limits/model.ts";
import { type RandomStream, randomStream } from "../../sim/random.ts";
import type { StationPlant } from "../../sim/station-plant.ts";
import type { VirtualClock } from "../../sim/virtual-clock.ts";
import type { StationVariant } from "./campaign-station.ts";
import {
  drawFaults,
  type Fault,
  falsifiesAirflow,
  faultText,
  type PlannedFault,
  type Stress,
  touchesPlant,
} from "./fault-plan.ts";
import type { DiskState } from "./modelled-disk.ts";
import type { Naming } from "./naming.ts";
import type { CrashKind } from "./platter.ts";
import type { WallClock } from "./program-clock.ts";

export interface TroublesParts {
  readonly seed: number;
  readonly stress: Stress | null;
  readonly variant: StationVariant;
  readonly limits: ModelLimits;
  readonly world: VirtualClock;
  readonly wall: WallClock;
  readonly plant: StationPlant;
  readonly disk: DiskState;
  readonly tell: (sentence: string) => void;
  /** What befalls the program. */
  readonly program: {
    abort(): void;
    stop(): void;
    crash(how: CrashKind): void;
    holdUp(seconds: number): void;
  };
  readonly guardOpened: (for_s: number) => void;
  readonly naming: Naming;
}

interface Creep {
  readonly testPressure_Pa: number;
  readonly rate_Pa_s: number;
  /** Since when the body has been under pressure; null while it is not. */
  since_s: number | null;
}

type BadDay = Fault & { readonly kind: "bad_day" };

/** Beyond this part of the test pressure the gauge creeps: a body whose gas cools or warms comes nowhere near it. */
const CREEPS_BEYOND = 0.5;
/** Of the house reference, by which leaks are stated. */
const REFERENCE_Pa = 101_325;

/** Trouble that comes on top strikes within so long of a phase's beginning. */
const STRESS_AFTER_s = [0, 1] as const;

/** What goes wrong in a shift, when its time has come. */
export class Troubles {
  readonly #parts: TroublesParts;
  readonly #plan: readonly PlannedFault[];
  readonly #struck = new Set<PlannedFault>();
  readonly #stressRandom: RandomStream;
  /** By instrument. */
  readonly #days = new Map<string, BadDay>();
  #phases = 0;
  #crashAt: { readonly operation: number; readonly how: CrashKind } | null = null;
  #creep: Creep | null = null;
  #step_Pa = 0;
  #isPlantTouched = false;
  #isAirflowFalse = false;
  #isGaugeStepped = false;
  #isOver = false;

  constructor(parts: TroublesParts) {
    this.#parts = parts;
    this.#stressRandom = randomStream(parts.seed, "stress");
    const badDays = new Map([...parts.plant.instruments].map(([name, it]) => [name, it.badDays] as const));
    this.#plan = drawFaults(randomStream(parts.seed, "faults"), badDays).filter(
      // Nothing would ever find it.
      ({ fault }) => parts.variant.pieces !== "none" || fault.kind !== "leak_gauge_creeps",
    );
  }

  /** Whether anything of the plant has been wrong since the test began. */
  get isPlantTouched(): boolean {
    return this.#isPlantTouched || this.#creep !== null;
  }

  /** Whether an airflow figure may have been wrong since the test began without anything but a reference piece finding it. */
  get isAirflowFalse(): boolean {
    return this.#isAirflowFalse;
  }

  /** Whether the leak gauge has shown more than there is since the test began, without being found out for certain. */
  get isGaugeStepped(): boolean {
    return this.#isGaugeStepped;
  }

  get isGaugeCreeping(): boolean {
    return this.#creep !== null;
  }

  /** Every fault that was drawn, and whether it came to it. */
  get described(): string[] {
    return this.#plan.map(
      (it) => `${faultText(it.fault)}${this.#struck.has(it) ? "" : " (did not come to it)"}`,
    );
  }

  get struckKinds(): string[] {
    return [...this.#struck].map(({ fault }) => (fault.kind === "bad_day" ? fault.day : fault.kind));
  }

  testBegan(): void {
    this.#isPlantTouched = this.#step_Pa !== 0 || [...this.#days.values()].some(touchesPlant);
    this.#isAirflowFalse = [...this.#days.values()].some(falsifiesAirflow);
    this.#isGaugeStepped = this.#step_Pa !== 0;
  }

  phaseBegan(name: string): void {
    const { stress } = this.#parts;
    if (stress?.lasts && !stress.lasts.includes(name)) this.#endStress();
    this.#stress(name);
    const phase = this.#phases++;
    for (const planned of this.#plan) {
      if (planned.phase !== phase || this.#struck.has(planned)) continue;
      this.#struck.add(planned);
      this.#later(planned.after_s, () => !this.#isOver && this.#strike(planned.fault));
    }
  }

  /** Called before each operation of the disk. */
  beforeOperation(): void {
    const due = this.#crashAt;
    if (!due || this.#parts.disk.operations < due.operation) return;
    this.#crashAt = null;
    this.#parts.program.crash(due.how);
  }

  /** What the station gets of a line of the leak gauge. */
  leakGaugeText(text: string): string {
    if (!this.#creep && this.#step_Pa === 0) return text;
    return text.replace(/P=([+-]\d+\.\d\d)/, (_, digits: string) => {
      const shown_Pa = Number(digits) + this.#step_Pa + this.#crept_Pa(Number(digits));
      return `P=${shown_Pa < 0 ? "-" : "+"}${Math.abs(shown_Pa).toFixed(2)}`;
    });
  }

  /** How far the gauge has crept while it is under pressure. */
  #crept_Pa(pressure_Pa: number): number {
    const creep = this.#creep;
    if (!creep) return 0;
    const now_s = this.#parts.world.now_s();
    const isUnder = pressure_Pa / creep.testPressure_Pa > CREEPS_BEYOND;
    creep.since_s = isUnder ? (creep.since_s ?? now_s) : null;
    return creep.since_s === null
      ? 0
      : Math.sign(creep.testPressure_Pa) * creep.rate_Pa_s * (now_s - creep.since_s);
  }

  /** Everything that is wrong is put right, but for a gauge that only a reference piece finds. */
  heal(): void {
    const { plant, disk, wall } = this.#parts;
    for (const instrument of plant.instruments.values()) instrument.misbehave(null);
    plant.guard(true);
    plant.releaseStart();
    disk.trouble = null;
    disk.accident = null;
    wall.offset_ms = 0;
    this.#crashAt = null;
    this.#step_Pa = 0;
    for (const instrument of [...this.#days.keys()]) this.#dayOver(instrument);
    this.#isOver = true;
    this.#parts.tell("everything is put right");
  }

  mendGauge(): void {
    this.#creep = null;
    this.#parts.tell("the leak gauge is mended");
  }

  #stress(phase: string): void {
    const { stress, variant } = this.#parts;
    if (!stress || this.#isOver || (stress.phases && !stress.phases.includes(phase))) return;
    if (!this.#stressRandom.chance(stress.chance)) return;
    const [least, most] = stress.after_s ?? STRESS_AFTER_s;
    this.#later(this.#stressRandom.between(least, most), () => {
      for (const fault of stress.faults) {
        const isFindable = variant.pieces !== "none" || fault.kind !== "leak_gauge_creeps";
        if (!this.#isOver && isFindable) this.#strike(fault);
      }
    });
  }

  #endStress(): void {
    for (const fault of this.#parts.stress?.faults ?? []) {
      if (fault.kind !== "bad_day" || this.#days.get(fault.instrument) !== fault) continue;
      this.#parts.plant.instruments.get(fault.instrument)?.misbehave(null);
      this.#dayOver(fault.instrument);
    }
  }

  #strike(fault: Fault): void {
    const { plant, disk, wall, program, tell } = this.#parts;
    tell(`FAULT ${faultText(fault)}`);
    if (touchesPlant(fault)) this.#isPlantTouched = true;
    switch (fault.kind) {
      case "bad_day":
        this.#badDay(fault);
        break;
      case "leak_gauge_creeps":
        this.#creep ??= { ...this.#limitLoss(fault.part), since_s: null };
        break;
      case "leak_gauge_steps":
        this.#stepGauge(fault);
        break;
      case "guard_opened":
        plant.guard(false);
        this.#parts.guardOpened(fault.for_s);
        this.#later(fault.for_s, () => plant.guard(true));
        break;
      case "abort":
        program.abort();
        break;
      case "start_pressed":
        plant.pressStart(fault.for_s);
        break;
      case "clock_put":
        wall.offset_ms += Math.round(fault.by_s * 1000);
        break;
      case "held_up":
        this.#parts.naming.heldUp(fault.for_s);
        program.holdUp(fault.for_s);
        break;
      case "disk":
        disk.trouble = fault.trouble;
        this.#later(fault.for_s, () => {
          if (disk.trouble === fault.trouble) disk.trouble = null;
        });
        break;
      case "write":
        disk.accident = fault.accident;
        break;
      case "stopped":
        program.stop();
        break;
      case "crash":
        if (fault.afterOperations === null) program.crash(fault.how);
        else this.#crashAt = { operation: disk.operations + fault.afterOperations + 1, how: fault.how };
        break;
    }
  }

  #badDay(fault: BadDay): void {
    const instrument = this.#parts.plant.instruments.get(fault.instrument);
    this.#days.set(fault.instrument, fault);
    this.#parts.naming.dayBegan(fault.instrument, fault.day);
    if (falsifiesAirflow(fault)) this.#isAirflowFalse = true;
    instrument?.misbehave(fault.day);
    this.#later(fault.for_s, () => {
      if (this.#days.get(fault.instrument) !== fault) return;
      this.#dayOver(fault.instrument);
      instrument?.misbehave(null);
    });
  }

  #dayOver(instrument: string): void {
    this.#days.delete(instrument);
    this.#parts.naming.dayEnded(instrument);
  }

  /** @param part of what a unit loses whose leak is at its limit */
  #limitLoss(part: number): Pick<Creep, "testPressure_Pa" | "rate_Pa_s"> {
    const { limits } = this.#parts;
    const step = limits.steps.find(({ kind }) => kind === "leak");
    const limit = limits.characteristics.find(({ measurand }) => measurand === "leak_rate")?.upper;
    if (step?.kind !== "leak" || limit === undefined) {
      throw new Error("The campaign's models have a leak step.");
    }
    const rate_Pa_s = (part * limit * REFERENCE_Pa) / limits.volume_m3;
    return { testPressure_Pa: step.testPressure_Pa, rate_Pa_s };
  }

  #stepGauge({ by_s, for_s }: Fault & { readonly kind: "leak_gauge_steps" }): void {
    const { testPressure_Pa, rate_Pa_s } = this.#limitLoss(1);
    const step_Pa = Math.sign(testPressure_Pa) * rate_Pa_s * by_s;
    this.#step_Pa = step_Pa;
    this.#isGaugeStepped = true;
    this.#later(for_s, () => {
      if (this.#step_Pa === step_Pa) this.#step_Pa = 0;
    });
  }

  #later(after_s: number, happens: () => void): void {
    this.#parts.world.setTimeout(happens, after_s * 1000);
  }
}
