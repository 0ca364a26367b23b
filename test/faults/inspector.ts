import type { SimulatedUnit } from "../../sim/population.ts";
import { referencePieces, withLeak } from "../../sim/reference-pieces.ts";
import { truthOf } from "../../sim/truth.ts";
import type { PreparedAttempt } from "../../station/cycle/attempt.ts";
import type { RunningStation } from "../../station/wiring.ts";
import type { Shift } from "./shift.ts";

const PAUSE_s = 30;
const PRESSES = 3;
/** Of the units, clearly beyond their leak limit. */
const LEAKING_PART = 0.35;
const MOST_ACKNOWLEDGED = 12;

type Outcome = "finished" | "refused" | "stopped" | "ended" | "hung";

/** Somebody at the line: works, makes mistakes, does what the station asks, and now and then tries to get a unit through. */
export class Inspector {
  readonly #shift: Shift;
  readonly #failed: SimulatedUnit[] = [];
  readonly #passed: SimulatedUnit[] = [];
  readonly #pieces: ReadonlyMap<string, SimulatedUnit>;
  readonly #listening = new WeakSet<RunningStation["station"]>();
  #next = 0;
  #heard: Outcome | null = null;
  #armed: PreparedAttempt | null = null;

  constructor(shift: Shift) {
    this.#shift = shift;
    this.#pieces = bodies(shift);
  }

  /** A few units, with whatever comes between. */
  async work(units: number): Promise<void> {
    const { random } = this.#shift;
    // A shift that has failed has shown what it can.
    for (let done = 0; done < units && this.#shift.violations.length === 0; done++) {
      if (!(await this.#makeReady(MOST_ACKNOWLEDGED))) continue;
      await this.#shift.colleague.comesBy();
      if (this.#shift.station?.dueReferences().length && random.chance(0.85)) await this.prove();
      await this.#testSomething();
    }
  }

  /** Tests the reference pieces that are due. */
  async prove(): Promise<void> {
    for (const { serial } of this.#shift.station?.dueReferences() ?? [])
      await this.#test(this.#piece(serial));
  }

  /** Tests every piece, due or not. */
  async checkAll(): Promise<void> {
    if (this.#shift.variant.pieces === "none") return;
    const orifice = this.#shift.variant.pieces === "all" ? ["ORIFICE"] : [];
    for (const kind of ["TIGHT", "LEAK", ...orifice]) {
      await this.#test(this.#piece(`REF-${kind}-${this.#shift.variant.model}`));
    }
  }

  /** A sound unit, fresh from the line. @returns whether the station gave a verdict on it */
  async testSound(unit: SimulatedUnit): Promise<Outcome> {
    return this.#test(unit);
  }

  /**
   * Starts the program where none runs and acknowledges what stopped the station, as often as it takes.
   * @returns whether the station waits for a scan
   */
  async #makeReady(tries: number): Promise<boolean> {
    const { random } = this.#shift;
    for (let k = 0; k < tries; k++) {
      if (!this.#shift.station && !(await this.#shift.open())) {
        await this.#shift.pause(random.between(1, 15));
        continue;
      }
      this.#listen();
      const state = this.#shift.state;
      if (state === "ready" || state === "needsReference" || state === "armed") return true;
      if (state === "faulted") {
        await this.#shift.pause(random.between(0.2, 4) + k);
        this.#shift.act((station) => station.acknowledge());
        await this.#shift.until(() => this.#shift.state !== "recovering", "recovering");
      }
      await this.#shift.pause(0.2);
    }
    return false;
  }

  /** @returns whether the station goes again, everything having been put right */
  recover(): Promise<boolean> {
    return this.#makeReady(MOST_ACKNOWLEDGED);
  }

  async #testSomething(): Promise<void> {
    const { random } = this.#shift;
    const failed = this.#failed.at(-1);
    const passed = this.#passed.at(-1);
    const what = random.uniform();
    if (failed && what < 0.3) await this.#again(failed);
    else if (passed && what < 0.36) await this.#test(passed);
    else if (what < 0.4) await this.#fidget();
    else if (what < 0.44) await this.checkAll();
    else {
      const unit = this.#offTheLine();
      const outcome = await this.#test(unit);
      if (outcome === "ended" || outcome === "stopped") this.#failed.push(unit);
    }
  }

  /** By the rule: after a pause, with a reason. Or not. */
  async #again(unit: SimulatedUnit): Promise<void> {
    const { random } = this.#shift;
    if (random.chance(0.6)) await this.#shift.pause(PAUSE_s + 1);
    const reason = random.chance(0.8) ? 1 : undefined;
    for (let tries = random.chance(0.3) ? 3 : 1; tries > 0; tries--) {
      if ((await this.#test(unit, reason)) !== "refused") return;
    }
  }

  /** Presses things. */
  async #fidget(): Promise<void> {
    const { random } = this.#shift;
    this.#shift.act((station) => {
      random.pick([
        () => station.start(),
        () => station.abort(),
        () => station.acknowledge(),
        () => station.chooseRetestReason(0),
        () => station.scan({ serial: "NONSENSE", parts: {} }),
      ])();
    });
    await this.#shift.pause(1);
  }

  #offTheLine(): SimulatedUnit {
    const { random, population, units, limits, marginal } = this.#shift;
    const unit = population.unitAt(this.#next++);
    const leak = limits.steps.find(({ kind }) => kind === "leak");
    const limit = limits.characteristics.find(({ measurand }) => measurand === "leak_rate");
    const upper = limit?.upper;
    if (leak?.kind !== "leak" || upper === undefined)
      throw new Error("The campaign's models have a leak step.");
    const what = random.uniform();
    const times =
      what < marginal.part
        ? random.between(marginal.least, marginal.most)
        : what < marginal.part + LEAKING_PART
          ? random.between(marginal.most, 6)
          : 0;
    const own = truthOf(unit, limits).characteristics.find(({ name }) => name === limit?.name)?.value ?? 0;
    const added_m3_s = upper * times - own;
    const made = added_m3_s > 0 ? withLeak(unit, added_m3_s, leak.testPressure_Pa) : unit;
    units.push(made);
    return made;
  }

  async #test(unit: SimulatedUnit, retestReason?: number): Promise<Outcome> {
    const { random, plant } = this.#shift;
    if (!(await this.#makeReady(3))) return "ended";
    const station = this.#shift.station;
    if (!station || station.state() === "testing" || !plant.isSafe) return "ended";
    plant.mount(unit);
    this.#heard = null;
    this.#armed = null;
    const more = retestReason === undefined ? {} : { retestReason };
    this.#shift.act((it) => it.scan({ serial: unit.serial, parts: unit.parts, ...more }));
    const isOver = () => this.#heard !== null || this.#shift.station !== station;
    await this.#shift.until(
      () => isOver() || this.#armed !== null,
      `the answer to the scan of ${unit.serial}`,
    );
    if (!isOver() && this.#armed) await this.#start(unit, station, isOver);
    const outcome = this.#outcome(station);
    if (outcome === "finished") this.#sort(unit);
    else if (this.#shift.state === "armed" && random.chance(0.7)) this.#shift.act((it) => it.abort());
    await this.#shift.pause(0.1);
    return outcome;
  }

  async #start(
    unit: SimulatedUnit,
    station: RunningStation["station"],
    isOver: () => boolean,
  ): Promise<void> {
    const { random, plant } = this.#shift;
    if ((this.#armed?.retestReasons.length ?? 0) > 0) {
      if (random.chance(0.8)) this.#shift.act((it) => it.chooseRetestReason(0));
    }
    const byButton = random.chance(0.3);
    await this.#shift.pause(random.between(0.1, 1));
    const hasBegun = () => isOver() || station.state() === "testing" || station.state() === "checking";
    for (let press = 0; press < PRESSES && !hasBegun(); press++) {
      if (byButton) plant.pressStart();
      else this.#shift.act((it) => it.start());
      await this.#shift.until(hasBegun, "the start", 2);
    }
    if (!hasBegun()) return;
    this.#shift.colleague.interrupts(unit.serial);
    await this.#shift.until(
      () => isOver() || !["testing", "checking"].includes(station.state()),
      `the end of ${unit.serial}'s test`,
    );
    // A verdict and a stop are told together.
    await this.#shift.pause(0.1);
  }

  #outcome(station: RunningStation["station"]): Outcome {
    if (this.#shift.station !== station) return "ended";
    return this.#heard ?? "refused";
  }

  #sort(unit: SimulatedUnit): void {
    const verdict = this.#shift.witness.told.at(-1)?.traveller;
    if (verdict?.serial !== unit.serial || verdict.reference) return;
    if (verdict.verdict === "pass") this.#passed.push(unit);
    else this.#failed.push(unit);
  }

  #listen(): void {
    const station = this.#shift.station;
    if (!station || this.#listening.has(station)) return;
    this.#listening.add(station);
    station.listen({
      armed: (attempt) => {
        this.#armed = attempt;
      },
      refused: () => {
        this.#heard ??= "refused";
      },
      finished: () => {
        this.#heard = "finished";
      },
      faulted: () => {
        this.#heard ??= "stopped";
      },
    });
  }

  #piece(serial: string): SimulatedUnit {
    const piece = this.#pieces.get(serial);
    if (!piece) throw new Error(`There is no body for ${serial}.`);
    return piece;
  }
}

function bodies({ limits }: Shift): ReadonlyMap<string, SimulatedUnit> {
  return new Map(Object.values(referencePieces(limits)).map(({ unit }) => [unit.serial, unit]));
}
