import type { AirflowStep, Characteristic, Step } from "../../limits/model.ts";
import { steadyMean } from "../measure/fit/steady-mean.ts";
import { budgetOf, combinedUncertainty } from "../measure/fit/uncertainty.ts";
import type { PreparedAttempt } from "./attempt.ts";
import {
  type CharacteristicResult,
  judged,
  notMeasured,
  type StationKnowledge,
} from "./characteristic-result.ts";
import { judgeLeak } from "./leak-judging.ts";
import { missingValues, NOT_REACHED } from "./missing-values.ts";
import type { Reason } from "./reason.ts";
import type { UnitEvidence } from "./unit-context.ts";

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
  if (measurand !== "suction" && measurand !== "flow" && measurand !== "power")
    return notMeasured(characteristic, NOT_REACHED);
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
  const unit = { suction: "Pa", flow: "m3/s", power: "W" }[measurand];
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

function failureReason({ characteristic, uncertainty, why }: CharacteristicResult): Reason {
  const name = characteristic.name.replaceAll("_", " ");
  if (uncertainty === null) return { code: "GROSS_LEAK", sentence: `${name}: ${why ?? "gross leak"}.` };
  return { code: "OUT_OF_LIMITS", sentence: `${name} is ${why ?? "out of its limits"}.` };
}
