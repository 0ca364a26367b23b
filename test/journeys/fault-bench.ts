import type { SimulatedUnit } from "../../sim/population.ts";
import type { Reason } from "../../station/cycle/reason.ts";
import { NOBODY } from "../../station/people/person.ts";
import type { Traveller } from "../../station/records/traveller.ts";
import { OneByOne, type Tested } from "../../station/test-one.ts";
import { openSimulatedStation, type SimulatedSetup, type SimulatedStation } from "../../station/wiring.ts";

/** A bad day and when it begins. */
export interface Strike {
  readonly instrument: string;
  readonly day: string;
  /** The phase of a test; "idle" is a station that waits. */
  readonly phase: string;
  /** Into the phase. */
  readonly after_s?: number;
}

/** What came of it. */
export interface Struck {
  readonly traveller: Traveller | null;
  /** Those of the traveller, or why the station stopped without one. */
  readonly reasons: readonly Reason[];
  /** From the strike until the station gave up what it was doing, and why that is no number where it never came to it. */
  readonly noticed_s: number;
  /** Whether the station is stopped now. */
  readonly isStopped: boolean;
  /** Whether the plant's outputs were safe 1.5 s later: the block's own watchdog takes a second. */
  readonly isSafe: boolean;
}

/** States of a station nothing is wrong with. */
const WELL: ReadonlySet<string> = new Set(["ready", "needsReference"]);

/** One simulated station on virtual time that meets one bad day after the other, each with a fresh sound unit. */
export class FaultBench {
  readonly simulated: SimulatedStation;
  readonly #one: OneByOne;
  readonly #connects = new Map<string, number>();
  #next = 0;
  #entered: (phase: string) => void = () => {};
  #stopped: (reasons: readonly Reason[]) => void = () => {};

  private constructor(simulated: SimulatedStation) {
    this.simulated = simulated;
    this.#one = new OneByOne(simulated.station);
    simulated.station.listen({
      phase: (_, phase) => this.#entered(phase),
      faulted: (reasons) => this.#stopped(reasons),
    });
    for (const [name, instrument] of simulated.plant.instruments) {
      const attach = instrument.attach.bind(instrument);
      instrument.attach = (far) => {
        this.#connects.set(name, this.connects(name) + 1);
        return attach(far);
      };
    }
  }

  static async open(setup: Partial<SimulatedSetup> & Pick<SimulatedSetup, "recordsFolder">) {
    const simulated = await openSimulatedStation({
      seed: 7,
      pace: "virtual",
      allowDrafts: false,
      onlyModel: "POD-4",
      ...setup,
    });
    simulated.station.signIn(NOBODY);
    return new FaultBench(simulated);
  }

  close(): Promise<void> {
    return this.simulated.close();
  }

  /** How often the instrument has been connected since the bench was opened. */
  connects(instrument: string): number {
    return this.#connects.get(instrument) ?? 0;
  }

  /** The seed's first unit with just these defects, each time under a serial of its own; without any it passes on good days. */
  unit(...defects: readonly string[]): SimulatedUnit {
    this.#next++;
    const serial = `POD${this.#next.toString().padStart(6, "0")}`;
    return { ...firstUnit(this.simulated, defects), serial };
  }

  /** Lets the plant's time pass. */
  pass(seconds: number): Promise<void> {
    const { clock } = this.simulated;
    return this.simulated.runUntil(
      new Promise<void>((resolve) => clock.setTimeout(() => resolve(), seconds * 1000)),
    );
  }

  /** Tests a unit; a station that stands still is acknowledged first. */
  test(unit: SimulatedUnit): Promise<Tested> {
    this.simulated.plant.mount(unit);
    return this.simulated.runUntil(this.#one.test({ serial: unit.serial, parts: unit.parts }));
  }

  /** Somebody acknowledges what the station is stopped for. @returns whether it goes on */
  async acknowledge(): Promise<boolean> {
    const { station } = this.simulated;
    station.acknowledge();
    await this.pass(1);
    return WELL.has(station.state());
  }

  misbehave(instrument: string, day: string | null): void {
    this.simulated.plant.instruments.get(instrument)?.misbehave(day);
  }

  /** Lets it strike a unit, or the waiting station, and sees what comes of it. */
  async strike(strike: Strike, unit = this.unit()): Promise<Struck> {
    const { clock } = this.simulated;
    let struck_s = Number.NaN;
    let noticed_s = Number.NaN;
    let stops: readonly Reason[] = [];
    const notice = () => {
      if (Number.isNaN(noticed_s) && !Number.isNaN(struck_s)) noticed_s = clock.now_s() - struck_s;
    };
    const hit = () => {
      struck_s = clock.now_s();
      this.misbehave(strike.instrument, strike.day);
    };
    this.#stopped = (reasons) => {
      stops = reasons;
      notice();
    };
    this.#entered = (phase) => {
      if (phase === strike.phase && Number.isNaN(struck_s)) {
        clock.setTimeout(hit, (strike.after_s ?? 0.05) * 1000);
      }
      if (phase === "safing" || phase === "recording") notice();
    };
    let traveller: Traveller | null = null;
    if (strike.phase === "idle") {
      hit();
      await this.pass(10);
    } else {
      if (strike.phase === "start") hit();
      const tested = await this.test(unit);
      traveller = tested.kind === "finished" ? tested.finished.traveller : null;
      if (tested.kind === "refused") stops = tested.reasons;
      await this.pass(1.5);
    }
    this.#entered = () => {};
    this.#stopped = () => {};
    const reasons = traveller ? (traveller.reasons as readonly Reason[]) : stops;
    const isStopped = !WELL.has(this.simulated.station.state());
    return { traveller, reasons, noticed_s, isStopped, isSafe: this.simulated.plant.isSafe };
  }
}

function firstUnit({ population }: SimulatedStation, defects: readonly string[]): SimulatedUnit {
  for (const unit of population.units(500)) if (unit.defects.join() === defects.join()) return unit;
  throw new Error(`None of the seed's first units has the defects ${defects.join(", ")}.`);
}
