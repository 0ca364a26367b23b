import type { Characteristic, LeakStep } from "../../limits/model.ts";
import type { DecayCurve } from "../measure/leak/decay-fit.ts";
import { isSettlingStale } from "../measure/leak/earliest-reading.ts";
import { estimateGrossLeak } from "../measure/leak/gross-leak.ts";
import { type LeakConditions, type LeakRate, measureLeakRate } from "../measure/leak/leak-rate.ts";
import type { PreparedAttempt, ReferencePiece } from "./attempt.ts";
import {
  type CharacteristicResult,
  judged,
  notMeasured,
  type StationKnowledge,
} from "./characteristic-result.ts";
import { fillFinding } from "./fill-findings.ts";
import { NOT_REACHED } from "./missing-values.ts";
import type { UnitEvidence } from "./unit-context.ts";
import { ventFinding } from "./vent-findings.ts";
import type { CurveSamples } from "./watchers.ts";

/** A leak rate from what the fill, the curve and the vent of its step showed. */
export function judgeLeak(
  characteristic: Characteristic,
  step: LeakStep,
  attempt: PreparedAttempt,
  evidence: UnitEvidence,
  station: StationKnowledge,
): CharacteristicResult {
  const leak = evidence.leaks.find((candidate) => candidate.step === step.name);
  // Whatever the curve says is said of the hose.
  if (leak?.vent && ventFinding(leak.vent, step)) {
    return notMeasured(characteristic, "the hose was shut off from the body");
  }
  if (leak?.isOfFixture) return notMeasured(characteristic, "the fixture was at fault, not the unit");
  const conditions = leakConditions(step, attempt, evidence, station);
  const unfilled = leak?.fill && fillFinding(leak.fill, step);
  if (leak?.gross && unfilled?.reason.code === "UNIT_NOT_SEALED") {
    const why = "the unit is not sealed: it took hardly any pressure, so that there is no rate";
    return { ...notMeasured(characteristic, why), verdict: "fail" };
  }
  if (leak?.gross && conditions) {
    return grossFailure(
      characteristic,
      leak.gross,
      conditions,
      "gross leak: test pressure not reached, rate estimated",
    );
  }
  if (!leak?.measure || !conditions) return notMeasured(characteristic, NOT_REACHED);
  const curve = sinceShutOff(leak.measure, step, evidence);
  const measured = measureLeakRate(curve, step.method, conditions);
  if (measured.kind === "void") return notMeasured(characteristic, measured.sentence);
  if (measured.kind === "lost") {
    const kept = Math.round(100 * Math.max(0, measured.pressureKept));
    const why = `gross leak: only ${kept} % of the test pressure was left to measure at, rate estimated`;
    return grossFailure(characteristic, leak.settle ?? leak.measure, conditions, why);
  }
  const { value_m3_s: value, uncertainty_m3_s: uncertainty, budget, how } = measured.leak;
  const result = { ...judged(characteristic, value, uncertainty, budget), how };
  if (result.verdict !== "pass") return result;
  const doubt = attempt.reference
    ? staleSettling(attempt, attempt.reference, step, { curve, conditions, measured: measured.leak })
    : leakTooVague(characteristic, uncertainty);
  return doubt ? { ...result, ...doubt } : result;
}

/** However far below its limit a reading is: from one this vague nothing follows. */
export const MOST_UNCERTAIN_PASS = 1 / 3;

/** @returns of a leak rate that would pass: why it is void all the same; null where it is not */
export function leakTooVague({ upper }: Pick<Characteristic, "upper">, uncertainty: number) {
  if (upper === undefined || uncertainty <= MOST_UNCERTAIN_PASS * upper) return null;
  const why = "its uncertainty is more than a third of the limit, too much to pass a unit by";
  return { verdict: "void" as const, why, conformance: null };
}

/** A piece that reads as certified in the end, but early on did not: units decided early would be judged wrongly. */
function staleSettling(
  { limits }: Pick<PreparedAttempt, "limits">,
  { certified_m3_s }: ReferencePiece,
  step: LeakStep,
  {
    curve,
    conditions,
    measured,
  }: { readonly curve: DecayCurve; readonly conditions: LeakConditions; readonly measured: LeakRate },
) {
  const limit_m3_s = limits.characteristics.find(
    (characteristic) => characteristic.step === step.name && characteristic.measurand === "leak_rate",
  )?.upper;
  if (limit_m3_s === undefined) return null;
  if (!isSettlingStale(curve, step, conditions, { measured, certified_m3_s, limit_m3_s })) return null;
  const why =
    "as certified in the end, but its first seconds are not as learned: run drumtight study settle for this model";
  return { verdict: "fail" as const, why };
}

/**
 * Samples with their times since the body was shut off, which is when its fill ended; in the whole microseconds that a
 * traveller keeps, so that its curve measures to the same last digit.
 */
export function sinceShutOff(curve: CurveSamples, step: LeakStep, evidence: UnitEvidence): DecayCurve {
  const fill = evidence.phases.find((phase) => phase.step === step.name && phase.phase === "fill");
  const shut_us = fill ? Math.round(fill.start_s * 1e6) + Math.round((fill.end_s - fill.start_s) * 1e6) : 0;
  return { t_s: curve.t_us.map((t_us) => (t_us - shut_us) / 1e6), pressure_Pa: pascals(curve) };
}

/** @returns null while the room has not been read, or the station does not know its gauges */
export function leakConditions(
  step: LeakStep,
  attempt: Pick<PreparedAttempt, "limits" | "calibration">,
  evidence: Pick<UnitEvidence, "ambient" | "phases">,
  station: StationKnowledge,
): LeakConditions | null {
  const gauge = station.channels.get("leak_pressure");
  const thermometer = station.channels.get("ambient_temperature");
  if (!evidence.ambient || !gauge || !thermometer) return null;
  return {
    testPressure_Pa: step.testPressure_Pa,
    ...testVolume(attempt, station),
    fixtureLeakBound_m3_s: station.fixtureLeakBound_m3_s,
    gaugeSlopeUncertainty: gauge.relative,
    ambientPressure_Pa: evidence.ambient.pressure_Pa,
    ambientTemperature_K: evidence.ambient.temperature_K,
    ambientTemperatureUncertainty_K: thermometer.absolute,
    settle: attempt.calibration.settle?.calibration ?? null,
    fill_s: fillOf(step, evidence),
  };
}

/** In the whole microseconds that a traveller keeps, so that a replay calculates with the same. */
function fillOf(step: LeakStep, { phases }: Pick<UnitEvidence, "phases">): number | null {
  const fill = phases.find((phase) => phase.step === step.name && phase.phase === "fill");
  return fill ? Math.round((fill.end_s - fill.start_s) * 1e6) / 1e6 : null;
}

/** As calibrated with this fixture where somebody has, else as drawn. */
function testVolume(
  { limits, calibration }: Pick<PreparedAttempt, "limits" | "calibration">,
  station: StationKnowledge,
): Pick<LeakConditions, "volume_m3" | "volumeComponents"> {
  const measured = calibration.volume?.calibration;
  if (measured) {
    const { volume_m3, uncertainty_m3 } = measured;
    return {
      volume_m3,
      volumeComponents: [{ component: "calibrated volume", estimate_m3: volume_m3, uncertainty_m3 }],
    };
  }
  return {
    volume_m3: limits.volume_m3 + station.fixtureVolume_m3,
    volumeComponents: [
      {
        component: "unit volume",
        estimate_m3: limits.volume_m3,
        uncertainty_m3: limits.volumeUncertainty_m3,
      },
      {
        component: "fixture volume",
        estimate_m3: station.fixtureVolume_m3,
        uncertainty_m3: station.fixtureVolumeUncertainty_m3,
      },
    ],
  };
}

/** Estimated, not measured: enough to send the unit to rework, never to pass it. */
function grossFailure(
  characteristic: Characteristic,
  decay: CurveSamples,
  conditions: LeakConditions,
  why: string,
): CharacteristicResult {
  const value = estimateGrossLeak({ t_s: seconds(decay), pressure_Pa: pascals(decay) }, conditions);
  return { characteristic, value, uncertainty: null, budget: [], verdict: "fail", why, conformance: null };
}

function seconds(curve: CurveSamples): number[] {
  return curve.t_us.map((t_us) => t_us / 1e6);
}

function pascals(curve: CurveSamples): number[] {
  return curve.pressure_mPa.map((pressure_mPa) => pressure_mPa / 1000);
}
