import { type BodyDesign, bodyDesign } from "../../../sim/bodies.ts";
import { Sensor, type SensorTraits } from "../../../sim/instruments/sensor.ts";
import { Housing, type HousingBody } from "../../../sim/plant/housing.ts";
import { capillariesLeaking, orificeLeaking } from "../../../sim/plant/leak-path.ts";
import { type Room, steadyRoom } from "../../../sim/plant/room.ts";
import { type RandomStream, randomStream } from "../../../sim/random.ts";
import { DEMO_FIXTURE } from "../../../sim/station-plant.ts";

/** The demo's leak gauge, without the offset and slope error of one particular gauge. */
export const LEAK_GAUGE: SensorTraits = {
  white: 0.6,
  correlated: 0.25,
  correlationTau_s: 0.5,
  lag_s: 0.02,
  resolution: 0.05,
  zeroError: 1.5,
  slopeError: 0.0005,
};

/** One leak step on a simulated body, without a station around it: fill, shut off, watch. */
export interface LeakTrial {
  readonly model: "TUB-12" | "POD-4";
  readonly seed: number;
  /** True leak at the test pressure, m3/s at the house reference, and the part of it that is laminar. */
  readonly leak_m3_s: number;
  readonly laminarPart?: number;
  readonly watch_s: number;
  readonly samplesPer_s?: number;
  /** Standard deviation of the sampling times around the even ones, in parts of the spacing. */
  readonly jitter?: number;
  readonly body?: Partial<HousingBody>;
  /** Fill restrictor against the model's: a fill that takes longer leaves less heat. */
  readonly restrictorFactor?: number;
  readonly gauge?: SensorTraits;
  readonly room?: Room;
  /** Pressure added to the plant's by something the model does not know, from the moment of shut-off. */
  readonly disturbance_Pa?: (t_s: number) => number;
}

export interface WatchedCurve {
  readonly fill_s: number;
  /** Since the shut-off. */
  readonly t_s: readonly number[];
  readonly pressure_Pa: readonly number[];
}

/** Tolerance of the fill, as in the demo's limit files. */
const FILL_TOLERANCE: Readonly<Record<LeakTrial["model"], number>> = { "TUB-12": 200, "POD-4": 150 };

export function watchBody(trial: LeakTrial): WatchedCurve {
  const { model, seed, leak_m3_s, laminarPart = 0.6, watch_s, samplesPer_s = 50, jitter = 0 } = trial;
  const design: BodyDesign = bodyDesign(model);
  const random = randomStream(seed, `leak trial ${model}`);
  const sensor = new Sensor(trial.gauge ?? LEAK_GAUGE, random);
  const housing = new Housing({ room: trial.room ?? steadyRoom(), fixture: DEMO_FIXTURE, t_s: 0 });
  const leakPaths =
    leak_m3_s > 0
      ? [
          capillariesLeaking(leak_m3_s * laminarPart, design.leakPressure_Pa, 0.003),
          orificeLeaking(leak_m3_s * (1 - laminarPart), design.leakPressure_Pa),
        ]
      : [];
  housing.mount(
    0,
    { ...design, wallOffset_K: 0, leakPaths, ...trial.body },
    {
      pressure_Pa: design.leakPressure_Pa * 1.03,
      restrictorArea_m2: design.restrictorArea_m2 * (trial.restrictorFactor ?? 1),
    },
  );
  housing.setValves(0, { source: true, isolate: true, vent: false });
  const { shut_s, next } = fill(housing, sensor, design, FILL_TOLERANCE[model], samplesPer_s);
  housing.setValves(shut_s, { source: false, isolate: false, vent: false });
  const t_s: number[] = [];
  const pressure_Pa: number[] = [];
  for (let i = next; i / samplesPer_s <= shut_s + watch_s; i++) {
    const at_s = (i + jitterOf(jitter, random)) / samplesPer_s;
    const since_s = at_s - shut_s;
    const extra_Pa = trial.disturbance_Pa?.(since_s) ?? 0;
    t_s.push(Math.round(since_s * 1e6) / 1e6);
    pressure_Pa.push(
      Math.round(sensor.read(at_s, housing.stateAt(at_s).pressure_Pa + extra_Pa) * 1000) / 1000,
    );
  }
  return { fill_s: shut_s, t_s, pressure_Pa };
}

function fill(
  housing: Housing,
  sensor: Sensor,
  design: BodyDesign,
  tolerance_Pa: number,
  samplesPer_s: number,
) {
  let inside = 0;
  for (let i = 1; i < 100 * samplesPer_s; i++) {
    const t_s = i / samplesPer_s;
    const shown_Pa = sensor.read(t_s, housing.stateAt(t_s).pressure_Pa);
    inside = Math.abs(shown_Pa - design.leakPressure_Pa) <= tolerance_Pa ? inside + 1 : 0;
    // The valve closes a few milliseconds after the reading that says so.
    if (inside >= 3) return { shut_s: t_s + 0.005, next: i + 1 };
  }
  throw new Error("The simulated body could not be filled.");
}

/** Sampling times that wander but never overtake each other. */
function jitterOf(jitter: number, random: RandomStream): number {
  return jitter === 0 ? 0 : Math.min(0.45, Math.max(-0.45, jitter * random.normal()));
}
