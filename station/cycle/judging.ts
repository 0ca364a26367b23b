import { type FailWhy, judge, type VoidWhy } from "../../limits/judge.ts";
import type { AirflowStep, Characteristic, LeakStep, Step } from "../../limits/model.ts";
import { steadyMean } from "../measure/fit/steady-mean.ts";
import { type BudgetLine, budgetOf, combinedUncertainty } from "../measure/fit/uncertainty.ts";
import type { DecayCurve } from "../measure/leak/decay-fit.ts";
import { isSettlingStale } from "../measure/leak/earliest-reading.ts";
import { estimateGrossLeak } from "../measure/leak/gross-leak.ts";
import { type LeakConditions, type LeakRate, measureLeakRate } from "../measure/leak/leak-rate.ts";
import type { HowMeasured } from "../measure/leak/leak-slope.ts";
import type { PreparedAttempt, ReferencePiece } from "./attempt.ts";
import { fillFinding } from "./fill-findings.ts";
import { missingValues, NOT_REACHED } from "./missing-values.ts";
import type { Reason } from "./reason.ts";
import type { UnitEvidence } from "./unit-context.ts";
import { ventFinding } from "./vent-findings.ts";
import type { CurveSamples } from "./watchers.ts";

/** What the station knows of itself that a result depends on. */
export interface StationKnowledge {
  readonly fixtureVolume_m3: number;
  readonly fixtureVolumeUncertainty_m3: number;
  readonly fixtureLeakBound_m3_s: number;
  /** Standard uncertainties from the calibration certificate, per channel. */
  readonly channels: ReadonlyMap<string, ChannelUncertainty>;
}

export interface ChannelUncertainty {
  /** In the channel's SI unit. */
  readonly absolute: number;
  /** Part of the reading. */
  readonly relative: number;
}

export interface CharacteristicResult {
  readonly characteristic: Characteristic;
  /** SI; null when nothing could be measured. */
  readonly value: number | null;
  /** Standard uncertainty, SI; null for an estimate that is not a measurement. */
  readonly uncertainty: number | null;
  readonly budget: readonly BudgetLine[];
  readonly verdict: "pass" | "fail" | "void";
  /** Why it is not a pass, in words. */
  readonly why?: string;
  /** Probability that the unit conforms (JCGM 106); null when nothing was judged. */
  readonly conformance: number | null;
  /** The way from curve to number, for a leak rate that was measured. */
  readonly how?: HowMeasured;
}

const WHY: Readonly<Record<FailWhy | VoidWhy, string>> = {
  ABOVE_UPPER_LIMIT: "above the upper limit",
  BELOW_LOWER_LIMIT: "below the lower limit",
  IN_UPPER_GUARD_BAND: "under the upper limit, but not by enough to be sure",
  IN_LOWER_GUARD_BAND: "over the lower limit, but not by enough to be sure",
  VALUE_NOT_FINITE: "the value is not a number",
  UNCERTAINTY_NOT_VALID: "its uncertainty is not valid",
  UNCERTAINTY_TOO_LARGE: "the uncertainty is too large to judge against these limits",
  LIMITS_NOT_VALID: "the limits contradict each other",
};

export interface AttemptResult {
  readonly verdict: "pass" | "fail" | "void";
  readonly reasons: readonly Reason[];
  readonly characteristics: readonly CharacteristicResult[];
}

/**
 * The verdict of an attempt. Pass needs every characteristic measured, trusted and conforming; fail needs a valid finding
 * against the unit and nothing that makes the measurement doubtful; everything else is void.
 */
export function judgeAttempt(
  attempt: PreparedAttempt,
  evidence: UnitEvidence,
  station: StationKnowledge,
): AttemptResult {
  const characteristics = characteristicsOf(attempt).map((characteristic) =>
    judgeCharacteristic(characteristic, attempt, evidence, station),
  );
  const failing = characteristics.filter((result) => result.verdict === "fail");
  const missing = characteristics.filter((result) => result.verdict === "void");
  const findings = failing.map(failureReason);
  // A phase that found the gross leak itself has said so already.
  const fails = [
    ...evidence.fails,
    ...findings.filter(
      (finding) => finding.code === "OUT_OF_LIMITS" || !evidence.fails.some((it) => isGross(it.code)),
    ),
  ];
  if (evidence.voids.length > 0) return { verdict: "void", reasons: evidence.voids, characteristics };
  if (fails.length > 0) return { verdict: "fail", reasons: fails, characteristics };
  if (characteristics.length === 0 || missing.length > 0) {
    const values = missing.map(({ characteristic: { name }, why = NOT_REACHED }) => ({ name, why }));
    return { verdict: "void", reasons: [missingValues(values)], characteristics };
  }
  return { verdict: "pass", reasons: [], characteristics };
}

/** Codes under which a phase finds that a unit could not be filled. */
function isGross(code: Reason["code"]): boolean {
  return code === "GROSS_LEAK" || code === "UNIT_NOT_SEALED";
}

/** @returns whether everything judged in this step conforms; a step that yielded nothing does not */
export function stepConforms(
  attempt: PreparedAttempt,
  evidence: UnitEvidence,
  step: Step,
  station: StationKnowledge,
): boolean {
  return characteristicsOf(attempt)
    .filter((characteristic) => characteristic.step === step.name)
    .every(
      (characteristic) => judgeCharacteristic(characteristic, attempt, evidence, station).verdict === "pass",
    );
}

/** A reference piece is judged by its certificate instead of the model's limits. */
function characteristicsOf({ limits, reference }: PreparedAttempt): readonly Characteristic[] {
  if (!reference) return limits.characteristics;
  return limits.characteristics
    .filter((characteristic) => characteristic.measurand === "leak_rate")
    .map((characteristic) => ({
      ...characteristic,
      lower: reference.certified_m3_s - reference.tolerance_m3_s,
      upper: reference.certified_m3_s + reference.tolerance_m3_s,
      unit: reference.unit,
      rule: { kind: "simple" as const },
    }));
}

function judgeCharacteristic(
  characteristic: Characteristic,
  attempt: PreparedAttempt,
  evidence: UnitEvidence,
  station: StationKnowledge,
): CharacteristicResult {
  const step = attempt.limits.steps.find((candidate) => candidate.name === characteristic.step);
  if (step?.kind === "leak" && characteristic.measurand === "leak_rate") {
    return judgeLeak(characteristic, step, attempt, evidence, station);
  }
  if (step?.kind === "airflow" && characteristic.measurand !== "leak_rate") {
    return judgeAirflow(characteristic, step, evidence, station);
  }
  return notMeasured(characteristic, `no step ${characteristic.step} measures it`);
}

function judgeLeak(
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
    : tooVague(characteristic, uncertainty);
  return doubt ? { ...result, ...doubt } : result;
}

/** However far below its limit a reading is: from one this vague nothing follows. */
const MOST_UNCERTAIN_PASS = 1 / 3;

function tooVague({ upper }: Characteristic, uncertainty: number) {
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

function judgeAirflow(
  characteristic: Characteristic,
  step: AirflowStep,
  evidence: UnitEvidence,
  station: StationKnowledge,
): CharacteristicResult {
  const held = evidence.airflow.find(
    (candidate) => candidate.step === step.name && candidate.point === characteristic.point,
  );
  if (!held) return notMeasured(characteristic, NOT_REACHED);
  const { measurand } = characteristic;
  const samples =
    measurand === "suction"
      ? held.samples.suction_Pa
      : measurand === "flow"
        ? held.samples.flow_m3_s
        : held.samples.power_W;
  if (samples.length < 2) return notMeasured(characteristic, "too few samples");
  const { mean: value, uncertainty: scatter } = steadyMean(samples);
  const certificate = station.channels.get(measurand);
  if (!certificate)
    return notMeasured(characteristic, `the station file states no uncertainty for ${measurand}`);
  const unit = { suction: "Pa", flow: "m3/s", power: "W", leak_rate: "m3/s" }[measurand];
  const budget = budgetOf([
    { component: "scatter", estimate: value, uncertainty: scatter, unit, sensitivity: 1 },
    {
      component: "calibration, constant part",
      estimate: 0,
      uncertainty: certificate.absolute,
      unit,
      sensitivity: 1,
    },
    {
      component: "calibration, part of reading",
      estimate: 1,
      uncertainty: certificate.relative,
      unit: "1",
      sensitivity: value,
    },
  ]);
  const uncertainty = combinedUncertainty(budget);
  return judged(characteristic, value, uncertainty, budget);
}

function judged(
  characteristic: Characteristic,
  value: number,
  uncertainty: number,
  budget: readonly BudgetLine[],
): CharacteristicResult {
  const judgement = judge({ ...characteristic, value, standardUncertainty: uncertainty });
  const measured = { characteristic, value, uncertainty, budget, conformance: judgement.conformance };
  if (judgement.verdict === "pass") return { ...measured, verdict: "pass" };
  return { ...measured, verdict: judgement.verdict, why: WHY[judgement.why] };
}

function notMeasured(characteristic: Characteristic, why: string): CharacteristicResult {
  return {
    characteristic,
    value: null,
    uncertainty: null,
    budget: [],
    verdict: "void",
    why,
    conformance: null,
  };
}

function failureReason({ characteristic, uncertainty, why }: CharacteristicResult): Reason {
  const name = characteristic.name.replaceAll("_", " ");
  if (uncertainty === null) return { code: "GROSS_LEAK", sentence: `${name}: ${why ?? "gross leak"}.` };
  return { code: "OUT_OF_LIMITS", sentence: `${name} is ${why ?? "out of its limits"}.` };
}

function seconds(curve: CurveSamples): number[] {
  return curve.t_us.map((t_us) => t_us / 1e6);
}

function pascals(curve: CurveSamples): number[] {
  return curve.pressure_mPa.map((pressure_mPa) => pressure_mPa / 1000);
}
