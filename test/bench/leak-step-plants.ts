import { type BodyDesign, bodyDesign } from "../../sim/bodies.ts";
import type { SensorTraits } from "../../sim/instruments/sensor.ts";
import { type Room, steadyRoom } from "../../sim/plant/room.ts";
import { type RandomStream, randomStream } from "../../sim/random.ts";
import { LEAK_GAUGE, type LeakTrial } from "../measure/leak/leak-plant.ts";

export type LeakModel = LeakTrial["model"];

/** A line on which units are tested: how its bodies, its gauge and its room differ from the plain one's. */
export interface LeakLine {
  readonly name: string;
  readonly gauge?: SensorTraits;
  /** Creep of the walls against the demo body's: how much, and how slowly. */
  readonly creepFactor?: number;
  readonly creepTau_s?: number;
  /** Amplitude of a second, slower exchange of heat (motor, filter, lid) as part of the test pressure, and its time constant. */
  readonly secondHeat?: number;
  readonly secondTau_s?: number;
  /** Largest drift of hall and barometer over a test; each unit meets its own. */
  readonly roomDrift_K_s?: number;
  readonly barometerDrift_Pa_s?: number;
  readonly samplesPer_s?: number;
  readonly jitter?: number;
}

const NOISY: SensorTraits = {
  ...LEAK_GAUGE,
  white: 2 * LEAK_GAUGE.white,
  correlated: 2 * (LEAK_GAUGE.correlated ?? 0),
};

/**
 * Six lines. The estimator's constants know none of them; each line's station learns from its own tight reference, as a
 * real one would. The sizes of all spreads are invented (common practice, no source).
 */
export const LEAK_LINES: readonly LeakLine[] = [
  { name: "plain" },
  { name: "two relaxations", secondHeat: 0.008, secondTau_s: 9 },
  { name: "more creep", creepFactor: 4, creepTau_s: 22 },
  { name: "noise x2", gauge: NOISY },
  { name: "drifting room", roomDrift_K_s: 1 / 3600, barometerDrift_Pa_s: 100 / 3600 },
  { name: "uneven sampling", samplesPer_s: 23, jitter: 0.3 },
];

/** Standard deviations from body to body, as parts of the value or in kelvins. */
const BODY = {
  tau: 0.07,
  volume: 0.005,
  wall_K: 0.1,
  creep: 0.2,
  secondHeat: 0.2,
  secondTau: 0.1,
  fill: 0.01,
} as const;
/** Farther out than this a body is not made. */
const BOUND = 3;

export interface UnitOrder {
  readonly line: LeakLine;
  readonly model: LeakModel;
  /** True leak at the test pressure, m3/s at the house reference. */
  readonly leak_m3_s: number;
  readonly watch_s: number;
  /** Names the body, and the test of it: the same names are the same body, met again on another day. */
  readonly body: string;
  readonly test?: string;
  /** A body that is one standard deviation off in everything, this way or that: as far as bodies are on the average. */
  readonly isReference?: boolean;
}

/** One unit off a line, ready to be filled and watched. */
export function drawTrial({ line, model, leak_m3_s, watch_s, isReference, ...names }: UnitOrder): LeakTrial {
  const random = randomStream(SEED, `${line.name} ${model} ${names.body}`);
  const design = bodyDesign(model);
  const off = (deviation: number) =>
    isReference ? (random.chance(0.5) ? deviation : -deviation) : random.boundedNormal(deviation, BOUND);
  const part = (deviation: number) => 1 + off(deviation);
  const laminarPart = random.uniform();
  const body = {
    volume_m3: design.volume_m3 * part(BODY.volume),
    thermalTau_s: design.thermalTau_s * part(BODY.tau),
    wallOffset_K: off(BODY.wall_K),
    creepCompliance_m3_Pa: design.creepCompliance_m3_Pa * (line.creepFactor ?? 1) * part(BODY.creep),
    creepTau_s: line.creepTau_s ?? design.creepTau_s,
  };
  const second = secondRelaxation(line, design, part);
  const day = randomStream(random.nextUint32(), names.test ?? "");
  const room = driftingRoom(line, day);
  const seed = day.nextUint32();
  return {
    model,
    seed,
    leak_m3_s,
    laminarPart,
    watch_s,
    body,
    restrictorFactor: part(BODY.fill),
    ...(room ? { room } : {}),
    ...(line.gauge ? { gauge: line.gauge } : {}),
    ...(line.samplesPer_s === undefined ? {} : { samplesPer_s: line.samplesPer_s }),
    ...(line.jitter === undefined ? {} : { jitter: line.jitter }),
    ...(second ? { disturbance_Pa: second } : {}),
  };
}

const SEED = 20_260_105;

/** Heat that comes and goes more slowly than the gas's own, as from a motor or a filter; signed as the gas's. */
function secondRelaxation(
  { secondHeat, secondTau_s }: LeakLine,
  design: BodyDesign,
  part: (deviation: number) => number,
): ((t_s: number) => number) | null {
  if (secondHeat === undefined || secondTau_s === undefined) return null;
  const amplitude_Pa = design.leakPressure_Pa * secondHeat * part(BODY.secondHeat);
  const tau_s = secondTau_s * part(BODY.secondTau);
  return (t_s) => amplitude_Pa * Math.exp(-t_s / tau_s);
}

function driftingRoom({ roomDrift_K_s, barometerDrift_Pa_s }: LeakLine, random: RandomStream): Room | null {
  if (roomDrift_K_s === undefined || barometerDrift_Pa_s === undefined) return null;
  const { pressure_Pa, temperature_K, ...still } = steadyRoom();
  const warming_K_s = random.between(-roomDrift_K_s, roomDrift_K_s);
  const rising_Pa_s = random.between(-barometerDrift_Pa_s, barometerDrift_Pa_s);
  return {
    ...still,
    pressure_Pa: (t_s) => pressure_Pa(t_s) + rising_Pa_s * t_s,
    temperature_K: (t_s) => temperature_K(t_s) + warming_K_s * t_s,
  };
}
