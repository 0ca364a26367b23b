import type { Clock, Levels } from "../drivers/ports.ts";
import type { ModelLimits } from "../limits/model.ts";
import { bodyDesign } from "./bodies.ts";
import { AsciiIoBlock, SAFE_OUTPUTS } from "./instruments/ascii-io.ts";
import { demoInstruments, flowPlateGauge } from "./instruments/demo-instruments.ts";
import {
  type ModbusFraming,
  type ModbusInstrumentName,
  modbusInstrument,
} from "./instruments/modbus-demo.ts";
import type { SimulatedInstrument } from "./instruments/plugged-instrument.ts";
import { AirflowPlant, type AirflowState } from "./plant/airflow.ts";
import { type Fixture, Housing, type HousingState, type SourceSetting } from "./plant/housing.ts";
import { capillariesLeaking } from "./plant/leak-path.ts";
import { type Room, workingRoom } from "./plant/room.ts";
import { openArea_m2, SHUTTER_BORES_m } from "./plant/shutters.ts";
import type { SimulatedUnit } from "./population.ts";

export interface StationPlantOptions {
  readonly clock: Clock;
  readonly seed: number;
  /** Sets the adapter plates' regulators for these models' test pressures; others get what their bodies are made for. */
  readonly models?: readonly ModelLimits[];
  readonly room?: Room;
  readonly fixture?: Fixture;
  /** Instruments that are asked for registers in place of lines, and how their frames travel. */
  readonly modbus?: ReadonlyMap<ModbusInstrumentName, ModbusFraming>;
  /** Of the leak gauge; fifty where it is not said. */
  readonly leakLinesPer_s?: number;
}

/** The demo fixture: 0.4 L of hose, tight to 0.1 mL/min at 5 kPa. */
export const DEMO_FIXTURE: Fixture = {
  volume_m3: 0.0004,
  leakPaths: [capillariesLeaking(0.1e-6 / 60, 5000, 0.01)],
  ventArea_m2: 1e-5,
  reservoir_m3: 0.02,
  regulator_kg_sPa: 2.4e-6,
};

/** Bad days of valves, shutters, hoses, contactor, source and mains, and of a flow gauge that has lost its calibration, set at the I/O block. */
const PLANT_BAD_DAYS = [
  "source_weak",
  "source_stuck_open",
  "source_stuck_closed",
  "isolate_stuck_open",
  "isolate_stuck_closed",
  "vent_stuck_closed",
  "vent_stuck_open",
  "vent_blocked",
  "hose_blocked",
  "contactor_welded",
  "contactor_open",
  "mains_low",
  "mains_high",
  "fixture_leak",
  "shutters_stuck",
  "shutter_1_shut",
  "shutter_1_open",
  "shutter_2_half",
  "plenum_hose_off",
  "flow_gauge_off",
] as const;

/** The regulator stands this much beyond the test pressure, so that a fill arrives. */
const SOURCE_BEYOND = 1.03;
const WEAK_PART = 0.6;
const MAINS_PART: Readonly<Record<string, number>> = { mains_low: 0.87, mains_high: 1.09 };
/** What dirt leaves of the vent's opening. */
const BLOCKED_VENT_PART = 0.002;
/** Whether orifice_1's shutter stands open, whatever its output says. */
const FIRST_SHUTTER_OPEN: Readonly<Record<string, boolean>> = { shutter_1_shut: false, shutter_1_open: true };
/** What a flow gauge shows that somebody dropped, over the truth. */
const FLOW_GAUGE_OFF = 1.05;
const START_PRESS_s = 0.3;

/**
 * One simulated station: fixture, source, airflow plenum, instruments, and whatever unit is on. Time is the
 * clock's; the plant is worked out only when somebody looks or something changes.
 */
export class StationPlant {
  /** By their names in the station file; a station need not use them all. */
  readonly instruments: ReadonlyMap<string, SimulatedInstrument>;
  readonly #clock: Clock;
  readonly #models: readonly ModelLimits[];
  readonly #room: Room;
  readonly #housing: Housing;
  readonly #airflow: AirflowPlant;
  readonly #io: AsciiIoBlock;
  #unit: SimulatedUnit | null = null;
  #plantDay: string | null = null;
  #isGuardClosed = true;
  #openShutters: readonly string[] = [];
  #startUntil_s = Number.NEGATIVE_INFINITY;

  constructor({
    clock,
    seed,
    models = [],
    room = workingRoom(seed),
    fixture = DEMO_FIXTURE,
    modbus = new Map(),
    leakLinesPer_s,
  }: StationPlantOptions) {
    this.#clock = clock;
    this.#models = models;
    this.#room = {
      ...room,
      mains_V: (t_s) => room.mains_V(t_s) * (MAINS_PART[this.#plantDay ?? ""] ?? 1),
    };
    this.#housing = new Housing({ room: this.#room, fixture, t_s: clock.now_s() });
    this.#airflow = new AirflowPlant(this.#room);
    this.#io = new AsciiIoBlock({
      name: "io_block",
      clock,
      seed,
      drive: (levels) => this.#drive(levels),
      inputs: () => ({ guard: this.#isGuardClosed, start: this.isStartPressed }),
      plantBadDays: PLANT_BAD_DAYS,
      plantDay: (badDay) => {
        this.#plantDay = badDay;
        this.#applyPlantDay();
      },
    });
    const instrumented = {
      clock,
      seed,
      ...(leakLinesPer_s === undefined ? {} : { leakLinesPer_s }),
      room: this.#room,
      housing: (t_s: number) => this.#housing.stateAt(t_s),
      airflow: (t_s: number) => this.#shown(this.#airflow.stateAt(t_s)),
    };
    // Served one after the other: what the demo station does not use comes last.
    const all = [...demoInstruments(instrumented), this.#io, flowPlateGauge(instrumented)];
    const registered = [...modbus].map(([name, framing]) =>
      modbusInstrument(name, framing, instrumented, this.#io),
    );
    this.instruments = new Map([...all, ...registered].map((instrument) => [instrument.name, instrument]));
  }

  /** The unit on the fixture. */
  get unit(): SimulatedUnit | null {
    return this.#unit;
  }

  /** Levels at the I/O block's terminals now. */
  get outputs(): Levels {
    return this.#io.outputs;
  }

  /** True gas state now. */
  get gas(): HousingState {
    return this.#housing.stateAt(this.#clock.now_s());
  }

  /** True airflow now. */
  get air(): AirflowState {
    return this.#airflow.stateAt(this.#clock.now_s());
  }

  /** Part of full speed, 0 when the motor stands. */
  get motorSpeed(): number {
    return this.#airflow.speedAt(this.#clock.now_s());
  }

  get isStartPressed(): boolean {
    return this.#clock.now_s() < this.#startUntil_s;
  }

  /** Nothing driven and only the vent open. */
  get isSafe(): boolean {
    return Object.entries(SAFE_OUTPUTS).every(([name, level]) => this.outputs[name] === level);
  }

  /** Puts a unit on the fixture, full of room air, in place of any before; null leaves the fixture bare. */
  mount(unit: SimulatedUnit | null): void {
    const t_s = this.#clock.now_s();
    this.#unit = unit;
    this.#airflow.mount(unit?.cleaner ?? null);
    this.#housing.mount(t_s, unit?.body ?? null, this.#sourceSetting());
    this.#drive(this.outputs);
  }

  guard(closed: boolean): void {
    this.#isGuardClosed = closed;
  }

  /** Presses the start button for this long. */
  pressStart(hold_s = START_PRESS_s): void {
    this.#startUntil_s = this.#clock.now_s() + hold_s;
  }

  releaseStart(): void {
    this.#startUntil_s = Number.NEGATIVE_INFINITY;
  }

  /** What the levels do to valves, motor and shutters, bad day included. */
  #drive(levels: Levels): void {
    const t_s = this.#clock.now_s();
    const day = this.#plantDay;
    const stands = (valve: string) =>
      day === `${valve}_stuck_open` || (levels[valve] === true && day !== `${valve}_stuck_closed`);
    const [source, isolate, vent] = [stands("source"), stands("isolate"), stands("vent")];
    this.#housing.setValves(t_s, { source, isolate, vent });
    const isMotorOn = this.#airflow.isMotorOn;
    const motor = levels.motor === true ? day !== "contactor_open" : day === "contactor_welded" && isMotorOn;
    this.#airflow.setMotor(t_s, motor);
    if (day !== "shutters_stuck") {
      this.#openShutters = Object.keys(SHUTTER_BORES_m).filter((name) =>
        name === "orifice_1" && day !== null && day in FIRST_SHUTTER_OPEN
          ? FIRST_SHUTTER_OPEN[day]
          : levels[name],
      );
    }
    const isHalf = day === "shutter_2_half" && this.#openShutters.includes("orifice_2");
    const missing_m2 = isHalf ? openArea_m2(["orifice_2"]) / 2 : 0;
    this.#airflow.setOrifice(t_s, openArea_m2(this.#openShutters) - missing_m2);
  }

  #shown(air: AirflowState): AirflowState {
    return this.#plantDay === "flow_gauge_off" ? { ...air, flow_m3_s: air.flow_m3_s * FLOW_GAUGE_OFF } : air;
  }

  #applyPlantDay(): void {
    const t_s = this.#clock.now_s();
    this.#housing.setSource(t_s, this.#sourceSetting());
    this.#housing.setFixtureLeak(t_s, this.#plantDay === "fixture_leak" ? FIXTURE_LEAK_m2 : 0);
    this.#housing.setVentPart(t_s, this.#plantDay === "vent_blocked" ? BLOCKED_VENT_PART : 1);
    this.#housing.setCutOff(t_s, this.#plantDay === "hose_blocked");
    this.#airflow.setHoseOff(this.#plantDay === "plenum_hose_off");
    this.#drive(this.outputs);
  }

  #sourceSetting(): SourceSetting {
    if (!this.#unit) return { pressure_Pa: 0, restrictorArea_m2: 0 };
    const design = bodyDesign(this.#unit.model);
    const limits = this.#models.find(({ model }) => model === design.model);
    const leakStep = limits?.steps.find((step) => step.kind === "leak");
    const target_Pa = leakStep?.testPressure_Pa ?? design.leakPressure_Pa;
    const health = this.#plantDay === "source_weak" ? WEAK_PART : 1;
    return { pressure_Pa: target_Pa * SOURCE_BEYOND * health, restrictorArea_m2: design.restrictorArea_m2 };
  }
}

/** A hose seal that has given way: some 100 mL/min at 8 kPa. */
const FIXTURE_LEAK_m2 = 1.5e-8;
