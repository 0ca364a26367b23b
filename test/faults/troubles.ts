import type { ModelLimits } from "../../limits/model.ts";
import { randomStream } from "../../sim/random.ts";
import type { StationPlant } from "../../sim/station-plant.ts";
import type { VirtualClock } from "../../sim/virtual-clock.ts";
import type { StationVariant } from "./campaign-station.ts";
import {
  drawFaults,
  type Fault,
  falsifiesAirflow,
  faultText,
  type PlannedFault,
  touchesPlant,
} from "./fault-plan.ts";
import type { DiskState } from "./modelled-disk.ts";
import type { CrashKind } from "./platter.ts";
import type { WallClock } from "./program-clock.ts";

export interface TroublesParts {
  readonly seed: number;
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
}

type BadDay = Fault & { readonly kind: "bad_day" };

/** So close to the test pressure a sticky gauge sticks, as a part of it: only where the fill has arrived. */
const STICKS_WITHIN = 0.15;

/** What goes wrong in a shift, when its time has come. */
export class Troubles {
  readonly #parts: TroublesParts;
  readonly #plan: readonly PlannedFault[];
  readonly #struck = new Set<PlannedFault>();
  /** By instrument. */
  readonly #days = new Map<string, BadDay>();
  #phases = 0;
  #crashAt: { readonly operation: number; readonly how: CrashKind } | null = null;
  #sticky: { readonly part: number; readonly around_Pa: number } | null = null;
  #isPlantTouched = false;
  #isAirflowFalse = false;
  #isOver = false;

  constructor(parts: TroublesParts) {
    this.#parts = parts;
    const badDays = new Map([...parts.plant.instruments].map(([name, it]) => [name, it.badDays] as const));
    this.#plan = drawFaults(randomStream(parts.seed, "faults"), badDays).filter(
      // Nothing would ever find it.
      ({ fault }) => parts.variant.pieces !== "none" || fault.kind !== "leak_gauge_sticky",
    );
  }

  /** Whether anything of the plant has been wrong since the test began. */
  get isPlantTouched(): boolean {
    return this.#isPlantTouched || this.#sticky !== null;
  }

  /** Whether an airflow figure may have been wrong since the test began without anything but a reference piece finding it. */
  get isAirflowFalse(): boolean {
    return this.#isAirflowFalse;
  }

  get isGaugeSticky(): boolean {
    return this.#sticky !== null;
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
    this.#isPlantTouched = [...this.#days.values()].some(touchesPlant);
    this.#isAirflowFalse = [...this.#days.values()].some(falsifiesAirflow);
  }

  phaseBegan(): void {
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
    const sticky = this.#sticky;
    if (!sticky) return text;
    return text.replace(/P=([+-]\d+\.\d\d)/, (whole, digits: string) => {
      const off_Pa = Number(digits) - sticky.around_Pa;
      if (Math.abs(off_Pa) > Math.abs(sticky.around_Pa) * STICKS_WITHIN) return whole;
      const shown_Pa = sticky.around_Pa + off_Pa * sticky.part;
      return `P=${shown_Pa < 0 ? "-" : "+"}${Math.abs(shown_Pa).toFixed(2)}`;
    });
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
    this.#days.clear();
    this.#isOver = true;
    this.#parts.tell("everything is put right");
  }

  mendGauge(): void {
    this.#sticky = null;
    this.#parts.tell("the leak gauge is mended");
  }

  #strike(fault: Fault): void {
    const { plant, disk, wall, program, tell } = this.#parts;
    tell(`FAULT ${faultText(fault)}`);
    if (touchesPlant(fault)) this.#isPlantTouched = true;
    switch (fault.kind) {
      case "bad_day":
        this.#badDay(fault);
        break;
      case "leak_gauge_sticky":
        this.#sticky = { part: fault.part, around_Pa: this.#testPressure_Pa() };
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
    if (falsifiesAirflow(fault)) this.#isAirflowFalse = true;
    instrument?.misbehave(fault.day);
    this.#later(fault.for_s, () => {
      if (this.#days.get(fault.instrument) !== fault) return;
      this.#days.delete(fault.instrument);
      instrument?.misbehave(null);
    });
  }

  #testPressure_Pa(): number {
    const step = this.#parts.limits.steps.find(({ kind }) => kind === "leak");
    return step?.kind === "leak" ? step.testPressure_Pa : 0;
  }

  #later(after_s: number, happens: () => void): void {
    this.#parts.world.setTimeout(happens, after_s * 1000);
  }
}
