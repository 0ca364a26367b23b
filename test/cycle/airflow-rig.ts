import type { Reading } from "../../drivers/ports.ts";
import type { AirflowStep } from "../../limits/model.ts";
import { Sensor, type SensorTraits } from "../../sim/instruments/sensor.ts";
import { AirflowPlant, type AirflowState, airflowAt, type Cleaner } from "../../sim/plant/airflow.ts";
import { NOMINAL_MAINS_V, type Room, steadyRoom } from "../../sim/plant/room.ts";
import { DEMO_ORIFICES, openArea_m2 } from "../../sim/plant/shutters.ts";
import { randomStream } from "../../sim/random.ts";
import type { AirflowSamples, PointOrder } from "../../station/cycle/point-watch.ts";
import type { RunUpOrder } from "../../station/cycle/run-up-watch.ts";
import { createWatcher, type Outcome, type Untrusted } from "../../station/cycle/watchers.ts";

/** The demo's gauges, without the offset and slope error of particular ones: what is left is scatter and lag. SI. */
const GAUGES: Readonly<Record<"suction" | "flow" | "power" | "voltage", SensorTraits>> = {
  suction: { white: 2, whiteRelative: 0.0012, lag_s: 0.1, resolution: 1, zeroError: 0, slopeError: 0 },
  flow: { white: 1e-5, whiteRelative: 0.002, lag_s: 0.15, resolution: 5e-6, zeroError: 0, slopeError: 0 },
  power: { white: 0.2, whiteRelative: 0.001, lag_s: 0.1, resolution: 0.1, zeroError: 0, slopeError: 0 },
  voltage: {
    white: 0.03,
    correlated: 0.15,
    correlationTau_s: 2,
    lag_s: 0.05,
    resolution: 0.01,
    zeroError: 0,
    slopeError: 0,
  },
};
/** Constant parts of the demo station's certificates, SI. */
export const FLOORS: Readonly<Record<string, number>> = { suction: 10, flow: 5e-5, power: 1, voltage: 0.05 };

const PERIOD_s = 0.05;

export interface RigTrial {
  readonly cleaner: Cleaner;
  readonly seed: number;
  readonly room?: Room;
  /** White noise of all gauges against the demo's. */
  readonly noise?: number;
}

/** A cleaner on the measuring plenum with the demo's gauges, each asked twenty times a second; no station around it. */
export class AirflowRig {
  readonly #trial: RigTrial;
  readonly #room: Room;
  readonly #plant: AirflowPlant;
  readonly #sensors: Readonly<Record<keyof typeof GAUGES, Sensor>>;
  #now_s = 0;

  constructor(trial: RigTrial) {
    this.#trial = trial;
    this.#room = trial.room ?? steadyRoom();
    this.#plant = new AirflowPlant(this.#room);
    this.#plant.mount(trial.cleaner);
    const sensor = (channel: keyof typeof GAUGES) => {
      const traits = GAUGES[channel];
      const noise = trial.noise ?? 1;
      const noisy = {
        ...traits,
        white: traits.white * noise,
        whiteRelative: (traits.whiteRelative ?? 0) * noise,
      };
      return new Sensor(noisy, randomStream(trial.seed, `rig ${channel}`));
    };
    this.#sensors = {
      suction: sensor("suction"),
      flow: sensor("flow"),
      power: sensor("power"),
      voltage: sensor("voltage"),
    };
    this.#read("voltage", NOMINAL_MAINS_V);
  }

  get now_s(): number {
    return this.#now_s;
  }

  command({ orifice, motor }: { readonly orifice: string; readonly motor: boolean }): void {
    this.#plant.setOrifice(this.#now_s, area_m2(orifice));
    this.#plant.setMotor(this.#now_s, motor);
  }

  /** Half a period passes: the airflow gauge answers, then the power meter, in turn. */
  *readings(): Generator<Reading> {
    for (;;) {
      this.#now_s += PERIOD_s / 2;
      const { suction_Pa, flow_m3_s } = this.#plant.stateAt(this.#now_s);
      yield this.#read("suction", suction_Pa);
      yield this.#read("flow", flow_m3_s);
      this.#now_s += PERIOD_s / 2;
      yield this.#read("power", this.#plant.stateAt(this.#now_s).power_W);
      yield this.#read("voltage", this.#room.mains_V(this.#now_s));
    }
  }

  /** What the gauges would show without scatter and lag, the motor at full speed, at nominal mains. */
  truth(orifice: string): AirflowState {
    const t_s = this.#now_s;
    return airflowAt(this.#trial.cleaner, area_m2(orifice), {
      pressure_Pa: this.#room.pressure_Pa(t_s),
      temperature_K: this.#room.temperature_K(t_s),
      relativeHumidity: this.#room.relativeHumidity(t_s),
      mains_V: NOMINAL_MAINS_V,
    });
  }

  #read(channel: keyof typeof GAUGES, truth: number): Reading {
    return {
      channel,
      t_s: this.#now_s,
      value: this.#sensors[channel].read(this.#now_s, truth),
      quality: "good",
    };
  }
}

export interface HeldPoint {
  readonly name: string;
  readonly orifice: string;
  readonly took_s: number;
  readonly samples: AirflowSamples;
}

export interface StepRun {
  readonly runUp_s: number;
  readonly points: readonly HeldPoint[];
  /** What ended the step before its last point; null when all were held. */
  readonly stopped: Outcome | Untrusted | null;
}

/** The airflow step as the station's machine goes through it, up to switching off. */
export function runStep(trial: RigTrial, step: AirflowStep): StepRun {
  const rig = new AirflowRig(trial);
  const readings = rig.readings();
  const [first] = step.points;
  if (!first) throw new RangeError("The step has no point.");
  rig.command({ orifice: first.orifice, motor: true });
  const up = watch(createWatcher({ watch: "run_up", ...runUpOrder(step) }), readings);
  const runUp_s = rig.now_s;
  if (up.kind !== "run_up") return { runUp_s, points: [], stopped: up };
  const points: HeldPoint[] = [];
  for (const { name, orifice, knownWithin, samplesLeast, holdLongest_s } of step.points) {
    const from_s = rig.now_s;
    rig.command({ orifice, motor: true });
    const order: PointOrder = {
      ...commonOrder(step, orifice, holdLongest_s),
      point: name,
      knownWithin,
      samplesLeast,
      earlier: points.length === 0 ? up.readings : [],
    };
    const held = watch(createWatcher({ watch: "point", ...order }), readings);
    if (held.kind !== "steady") return { runUp_s, points, stopped: held };
    points.push({ name, orifice, took_s: rig.now_s - from_s, samples: held.samples });
  }
  return { runUp_s, points, stopped: null };
}

function runUpOrder(step: AirflowStep): RunUpOrder {
  const orifice = step.points[0]?.orifice ?? "closed";
  return { ...commonOrder(step, orifice, step.runUpLongest_s), inrushLongest_s: step.inrushLongest_s };
}

function commonOrder(step: AirflowStep, orifice: string, longest_s: number) {
  return {
    steady: step.steady,
    runningAbove_W: step.runningAbove_W,
    powerHighest_W: step.powerHighest_W,
    supplyVoltage_V: step.supplyVoltage_V,
    supplyTolerance_V: step.supplyTolerance_V,
    suctionPerVoltage: 2 * (step.correction?.speedPerVoltage ?? 0.55),
    flowChannel: "flow" as const,
    isInletClosed: area_m2(orifice) === 0,
    scatterFloor: (channel: string) => FLOORS[channel] ?? 0,
    longest_s,
  };
}

function watch(watcher: ReturnType<typeof createWatcher>, readings: Iterator<Reading>): Outcome | Untrusted {
  for (;;) {
    const outcome = watcher.accept([readings.next().value]);
    if (outcome) return outcome;
  }
}

function area_m2(orifice: string): number {
  const shutter = DEMO_ORIFICES[orifice];
  return shutter ? openArea_m2([shutter]) : 0;
}
