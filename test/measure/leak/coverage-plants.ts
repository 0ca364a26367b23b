import { bodyDesign } from "../../../sim/bodies.ts";
import { type Room, steadyRoom } from "../../../sim/plant/room.ts";
import { type RandomStream, randomStream } from "../../../sim/random.ts";
import { DEMO_FIXTURE } from "../../../sim/station-plant.ts";
import { UNSEEN_SLOW_PART } from "../../../station/measure/leak/fitted-slope.ts";
import type { LeakConditions } from "../../../station/measure/leak/leak-rate.ts";
import { roomDrift_Pa_s } from "../../../station/measure/leak/room-drift.ts";
import type { SettleCalibration } from "../../../station/measure/leak/settle-calibration.ts";
import { learnSettling } from "../../../station/measure/study/settle-study.ts";
import { LEAK_GAUGE, type LeakTrial, watchBody } from "./leak-plant.ts";

export type LeakModel = LeakTrial["model"];

/** Limits of the demo's two models, and what their files state of the volume (one standard uncertainty). */
const MODELS = {
  "TUB-12": { limit_m3_s: 60e-6 / 60, volumeUncertainty_m3: 1e-4 },
  "POD-4": { limit_m3_s: 25e-6 / 60, volumeUncertainty_m3: 4e-5 },
} as const;
/** One standard uncertainty each, as the demo's station file states them. */
const GAUGE_SLOPE = 0.001;
const THERMOMETER_K = 0.3;
const FIXTURE_m3 = 1e-5;
/** Bounds that the budget takes for the drift of room and barometer. */
const DRIFT = { room_K_s: 1 / 3600, barometer_Pa_s: 100 / 3600 };
const UNIT_SPREAD = { tau: 0.08, heat: 0.07, slow: 0.25 };
/** A fill of the demo's plant leaves heat that grows with this power of the time constant. */
const HEAT_PER_TAU = 0.77;
const STUDY = { runs: 5, watch_s: 60 };
const AMBIENT_K = 293.15;
const AMBIENT_Pa = 101_325;

/** The demo's gauge, as any of those that its calibration allows: another one for each unit. */
const ANY_GAUGE = { ...LEAK_GAUGE, slopeError: GAUGE_SLOPE * Math.sqrt(3) };

export interface CoveredUnit {
  readonly trial: LeakTrial;
  readonly conditions: LeakConditions;
  readonly truth_m3_s: number;
}

/** A calibration learned on a nominal tight piece, in a hall that drifted as the budget allows. */
export function learnedOn(model: LeakModel, study: number): SettleCalibration {
  const random = randomStream(study, `study ${model}`);
  const room = driftingRoom(random);
  const { leakPressure_Pa } = bodyDesign(model);
  const runs = Array.from({ length: STUDY.runs }, () =>
    watchBody({ model, seed: random.nextUint32(), leak_m3_s: 0, watch_s: STUDY.watch_s, room }),
  );
  const learned = learnSettling(runs, {
    testPressure_Pa: leakPressure_Pa,
    unitSpread: UNIT_SPREAD,
    pieceLoss_Pa_s: 0,
    roomDrift_Pa_s: roomDrift_Pa_s(AMBIENT_Pa + leakPressure_Pa, AMBIENT_K),
  });
  if (learned.kind !== "learned") throw new Error(learned.sentence);
  return learned.calibration;
}

/**
 * One unit with everything drawn that its calibration and the budget say is uncertain: time constant, heat, slow part, gauge
 * slope, volume, temperature, kind of leak, drifts. Leaks are log-uniform from 0.05 to 3 times the limit.
 */
export function drawUnit(
  model: LeakModel,
  settle: SettleCalibration,
  unit: number,
  watch_s: number,
): CoveredUnit {
  const random = randomStream(unit, `covered ${model}`);
  const { limit_m3_s, volumeUncertainty_m3 } = MODELS[model];
  const design = bodyDesign(model);
  const leak_m3_s = limit_m3_s * 0.05 * 60 ** random.uniform();
  const tauFactor = Math.exp((settle.tauSpread_s / settle.tau_s) * random.normal());
  const body = {
    volume_m3: design.volume_m3 + volumeUncertainty_m3 * random.normal(),
    thermalTau_s: design.thermalTau_s * tauFactor,
  };
  // The walls give way as the pressure falls, which a leak feels as volume.
  const absolute_Pa = AMBIENT_Pa + design.leakPressure_Pa;
  const felt_m3 = design.volume_m3 + absolute_Pa * design.elasticCompliance_m3_Pa;
  const volume_m3 = felt_m3 + DEMO_FIXTURE.volume_m3 + FIXTURE_m3 * random.normal();
  return {
    truth_m3_s: leak_m3_s,
    trial: {
      model,
      seed: random.nextUint32(),
      leak_m3_s,
      laminarPart: random.uniform(),
      watch_s,
      body,
      gauge: ANY_GAUGE,
      room: driftingRoom(random),
      disturbance_Pa: unlikeTheReference(settle, tauFactor, random),
    },
    conditions: {
      testPressure_Pa: design.leakPressure_Pa,
      volume_m3,
      volumeComponents: [
        { component: "unit volume", estimate_m3: felt_m3, uncertainty_m3: volumeUncertainty_m3 },
        { component: "fixture volume", estimate_m3: DEMO_FIXTURE.volume_m3, uncertainty_m3: FIXTURE_m3 },
      ],
      fixtureLeakBound_m3_s: 0,
      gaugeSlopeUncertainty: GAUGE_SLOPE,
      ambientPressure_Pa: AMBIENT_Pa,
      ambientTemperature_K: AMBIENT_K + THERMOMETER_K * random.normal(),
      ambientTemperatureUncertainty_K: THERMOMETER_K,
      settle,
      fill_s: null,
    },
  };
}

/** Heat and slow part beside those of the plant, so that both spread as calibrated. */
function unlikeTheReference(
  { tau_s, tauSpread_s, heat_Pa, heatSpread_Pa, slowSpread_Pa, slowTau_s }: SettleCalibration,
  tauFactor: number,
  random: RandomStream,
): (t_s: number) => number {
  const withTau_Pa = (HEAT_PER_TAU * heat_Pa * tauSpread_s) / tau_s;
  const moreHeat_Pa = Math.sqrt(Math.max(0, heatSpread_Pa ** 2 - withTau_Pa ** 2)) * random.normal();
  const moreSlow_Pa = Math.hypot(slowSpread_Pa, UNSEEN_SLOW_PART * heat_Pa) * random.normal();
  return (t_s) =>
    moreHeat_Pa * Math.exp(-t_s / (tau_s * tauFactor)) + moreSlow_Pa * Math.exp(-t_s / slowTau_s);
}

function driftingRoom(random: RandomStream): Room {
  const still = steadyRoom(AMBIENT_Pa, AMBIENT_K);
  const warming_K_s = random.between(-DRIFT.room_K_s, DRIFT.room_K_s);
  const rising_Pa_s = random.between(-DRIFT.barometer_Pa_s, DRIFT.barometer_Pa_s);
  return {
    ...still,
    temperature_K: (t_s) => AMBIENT_K + warming_K_s * t_s,
    pressure_Pa: (t_s) => AMBIENT_Pa + rising_Pa_s * t_s,
  };
}
