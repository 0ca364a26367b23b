import type { AirflowStep, Characteristic, Step } from "../../limits/model.ts";
import { airflowDoubt } from "./airflow-doubt.ts";
import { type AirflowResult, judgeAirflow, measureAirflowStep } from "./airflow-judging.ts";
import type { PreparedAttempt, ReferencePiece } from "./attempt.ts";
import { type CharacteristicResult, notMeasured, type StationKnowledge } from "./characteristic-result.ts";
import { judgeLeak } from "./leak-judging.ts";
import { missingValues, NOT_REACHED } from "./missing-values.ts";
import type { Reason } from "./reason.ts";
import { judgeReferenceFlow } from "./reference-flow-judging.ts";
import { type Suspect, suspectsOf } from "./suspects.ts";
import { stepsOf, type UnitEvidence } from "./unit-context.ts";

export interface AttemptResult {
  readonly verdict: "pass" | "fail" | "void";
  readonly reasons: readonly Reason[];
  readonly characteristics: readonly CharacteristicResult[];
  /** Of the airflow steps that came to a point and could be calculated. */
  readonly airflow: readonly AirflowResult[];
  /** What a failed unit is suspected of, most likely first; empty for any other. */
  readonly suspects: readonly Suspect[];
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
  const { limits, parts, reference } = attempt;
  if (reference?.orifice) return judgeOrificePiece(attempt, reference, evidence, station);
  const judging = new Judging(attempt, evidence, station);
  const characteristics = characteristicsOf(attempt).map((characteristic) => judging.judge(characteristic));
  const verdict = verdictOf(evidence, characteristics, judging.doubts);
  // What the model's rules suspect is a unit's; of a piece that fails, it is the station that is in doubt.
  const isUnitFailed = verdict.verdict === "fail" && !reference;
  return {
    ...verdict,
    characteristics,
    airflow: judging.airflow,
    suspects: isUnitFailed ? suspectsOf(limits.suspects, characteristics, verdict.reasons, parts) : [],
  };
}

/** What its motor does or does not says nothing about the station's gauges: without a flow it has proven nothing. */
function judgeOrificePiece(
  attempt: PreparedAttempt,
  piece: ReferencePiece,
  evidence: UnitEvidence,
  station: StationKnowledge,
): AttemptResult {
  const found = { ...evidence, fails: [], voids: [...evidence.voids, ...evidence.fails] };
  const [step] = stepsOf(attempt);
  if (step?.kind !== "airflow" || !piece.orifice) {
    return { ...verdictOf(found, [], []), characteristics: [], airflow: [], suspects: [] };
  }
  const flow = judgeReferenceFlow(piece, piece.orifice, step, evidence, station);
  const characteristics = [flow.characteristic];
  const verdict = verdictOf(found, characteristics, flow.doubts);
  return { ...verdict, characteristics, airflow: flow.airflow, suspects: [] };
}

function verdictOf(
  evidence: UnitEvidence,
  characteristics: readonly CharacteristicResult[],
  doubts: readonly Reason[],
): Pick<AttemptResult, "verdict" | "reasons"> {
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
  const voids = [...evidence.voids, ...doubts];
  if (voids.length > 0) return { verdict: "void", reasons: voids };
  if (fails.length > 0) return { verdict: "fail", reasons: fails };
  if (characteristics.length === 0 || missing.length > 0) {
    const values = missing.map(({ characteristic: { name }, why = NOT_REACHED }) => ({ name, why }));
    return { verdict: "void", reasons: [missingValues(values)] };
  }
  return { verdict: "pass", reasons: [] };
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
  const judging = new Judging(attempt, evidence, station);
  return characteristicsOf(attempt)
    .filter((characteristic) => characteristic.step === step.name)
    .every((characteristic) => judging.judge(characteristic).verdict === "pass");
}

/** A leak piece is judged by its certificate instead of the model's limits. */
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

/** Judges one attempt's characteristics; all of an airflow step's rest on one calculation. */
class Judging {
  readonly #attempt: PreparedAttempt;
  readonly #evidence: UnitEvidence;
  readonly #station: StationKnowledge;
  readonly #steps = new Map<AirflowStep, ReturnType<typeof measureAirflowStep>>();

  constructor(attempt: PreparedAttempt, evidence: UnitEvidence, station: StationKnowledge) {
    this.#attempt = attempt;
    this.#evidence = evidence;
    this.#station = station;
  }

  get airflow(): AirflowResult[] {
    return [...this.#steps.values()].flatMap((result) => ("kind" in result ? [] : [result]));
  }

  /** Of steps whose readings contradict themselves. */
  get doubts(): Reason[] {
    const { characteristics } = this.#attempt.limits;
    return this.airflow.flatMap((result) => airflowDoubt(result, characteristics, this.#station) ?? []);
  }

  judge(characteristic: Characteristic): CharacteristicResult {
    const step = this.#attempt.limits.steps.find((candidate) => candidate.name === characteristic.step);
    if (step?.kind === "leak" && characteristic.measurand === "leak_rate") {
      return judgeLeak(characteristic, step, this.#attempt, this.#evidence, this.#station);
    }
    if (step?.kind === "airflow" && characteristic.measurand !== "leak_rate") {
      return judgeAirflow(characteristic, this.#measured(step));
    }
    return notMeasured(characteristic, `no step ${characteristic.step} measures it`);
  }

  #measured(step: AirflowStep): ReturnType<typeof measureAirflowStep> {
    const known = this.#steps.get(step);
    if (known) return known;
    const measured = measureAirflowStep(step, this.#evidence, this.#station);
    this.#steps.set(step, measured);
    return measured;
  }
}

function failureReason({ characteristic, uncertainty, why }: CharacteristicResult): Reason {
  const name = characteristic.name.replaceAll("_", " ");
  if (uncertainty === null) return { code: "GROSS_LEAK", sentence: `${name}: ${why ?? "gross leak"}.` };
  return { code: "OUT_OF_LIMITS", sentence: `${name} is ${why ?? "out of its limits"}.` };
}
