import { type Decision, decide } from "../../limits/judge.ts";
import { DIMENSION_OF } from "../../limits/measurand.ts";
import type { AirflowStep, Characteristic, LeakStep, ModelLimits } from "../../limits/model.ts";
import { findUnit, HOUSE_REFERENCE, toSI, type Unit } from "../../limits/quantity.ts";
import { figureTooVague } from "../cycle/airflow-judging.ts";
import { leakTooVague } from "../cycle/leak-judging.ts";
import {
  PER_CHARACTERISTIC,
  PER_LEAK_RATE,
  type StoredCharacteristic,
  type StoredForm,
} from "../records/stored-values.ts";

/** Why the values that were recorded can't tell what other limits would have said. */
export type NotRejudged =
  /** There was no valid measurement, whatever the limits. */
  | "void"
  /** The limits judge something that this history has not. */
  | "not in the history"
  /** An earlier step had failed, so that this was not measured; now the unit would have gone on. */
  | "not reached"
  /** Measured otherwise than these limits ask for: only its curve can tell. */
  | "other method"
  | "other settling time"
  | "other measuring time"
  | "other early verdict"
  | "other test pressure"
  /** Airflow stated at another voltage or by another correction, or through other orifices. */
  | "other airflow conditions";

/** What limits say of one characteristic of a recorded attempt. */
export type RejudgedCharacteristic =
  | {
      readonly kind: "judged";
      readonly decision: Decision | { readonly verdict: "void"; readonly why: "TOO_VAGUE" };
      /** SI. */
      readonly value: number;
      readonly uncertainty: number;
    }
  | { readonly kind: "not judged"; readonly why: NotRejudged };

/** What limits say of a recorded attempt. */
export type Rejudged =
  | {
      readonly verdict: "pass" | "fail" | "void";
      /** A fail that no limit decided: a body that could not be filled, a motor that did not start. */
      readonly isKept: boolean;
    }
  /** With the characteristic's name, where it is one's. */
  | { readonly verdict: null; readonly why: NotRejudged; readonly of: string | null };

/** The curve's first and last sample are up to so far from the times asked for. */
const TIMING_WITHIN_s = 0.15;
/** As for curves: a fill may end this part of the test pressure away, besides its tolerance. */
const SAME_TEST_PRESSURE_WITHIN = 0.1;

/** How one of the new limits' characteristics is judged from the numbers of a form. */
export interface CharacteristicPlan {
  readonly characteristic: Characteristic;
  /** Null where the history has none that is the same quantity. */
  readonly stored: StoredCharacteristic | null;
  /** Of the value among the numbers; the uncertainty follows it. */
  readonly at: number;
  readonly unit: Unit | null;
  readonly isLeakRate: boolean;
  /** What of its form keeps it from being judged, whatever the numbers. */
  readonly obstacle: NotRejudged | null;
  /** Where times and pressure of a leak rate stand, and its step; null where they need no look. */
  readonly timing: { readonly at: number; readonly step: LeakStep } | null;
}

export interface FormPlan {
  readonly form: StoredForm;
  readonly characteristics: readonly CharacteristicPlan[];
  /** A fail by what a phase found, or by an estimate: no limit decides it. */
  readonly isFound: boolean;
}

/**
 * Judges recorded attempts of a model by other limits, by the station's own rules, with the values and uncertainties that were
 * recorded: by the limits that judged an attempt, its recorded verdict comes out again.
 */
export class Rejudging {
  readonly #limits: ModelLimits;
  readonly #plans = new Map<StoredForm, FormPlan>();

  /** @param limits of a file; others than the file's may judge, but the steps must be as they stand in it */
  constructor(limits: ModelLimits) {
    this.#limits = limits;
  }

  planOf(form: StoredForm): FormPlan {
    const known = this.#plans.get(form);
    if (known) return known;
    const isSameFile = form.limitFile.sha256 === this.#limits.source.sha256;
    const plan: FormPlan = {
      form,
      characteristics: this.#limits.characteristics.map((it) => planOf(it, form, this.#limits, isSameFile)),
      isFound: form.verdict === "fail" && form.codes.some((code) => code !== "OUT_OF_LIMITS"),
    };
    this.#plans.set(form, plan);
    return plan;
  }

  /**
   * @param numbers of the attempt, as the form orders them
   * @param told called with what became of each characteristic, in the limits' order, unless nothing was judged at all
   */
  rejudge(
    plan: FormPlan,
    numbers: Float64Array,
    told: (plan: CharacteristicPlan, result: RejudgedCharacteristic) => void = () => undefined,
  ): Rejudged {
    if (plan.form.verdict === "void") return { verdict: null, why: "void", of: null };
    let [isFailed, isVoid] = [plan.isFound, false];
    let missing: { why: NotRejudged; of: string } | null = null;
    for (const one of plan.characteristics) {
      const result = rejudgeOne(one, numbers);
      told(one, result);
      if (result.kind === "not judged") missing ??= { why: result.why, of: one.characteristic.name };
      else if (result.decision.verdict === "fail") isFailed = true;
      else if (result.decision.verdict === "void") isVoid = true;
    }
    // A fail is a fail whatever else is not known; and a pass needs everything.
    if (isFailed) return { verdict: "fail", isKept: plan.isFound };
    if (missing) return { verdict: null, ...missing };
    return { verdict: isVoid ? "void" : "pass", isKept: false };
  }
}

function rejudgeOne(
  { characteristic, stored, at, unit, isLeakRate, obstacle, timing }: CharacteristicPlan,
  numbers: Float64Array,
): RejudgedCharacteristic {
  if (!stored || !unit) return { kind: "not judged", why: "not in the history" };
  if (obstacle) return { kind: "not judged", why: obstacle };
  const recorded = numbers[at] ?? Number.NaN;
  const recordedUncertainty = numbers[at + 1] ?? Number.NaN;
  if (Number.isNaN(recorded) || Number.isNaN(recordedUncertainty)) {
    return { kind: "not judged", why: "not reached" };
  }
  const otherwise = timing && timedOtherwise(stored, timing.step, numbers, timing.at);
  if (otherwise) return { kind: "not judged", why: otherwise };
  const value = toSI(recorded, unit);
  const uncertainty = toSI(recordedUncertainty, unit);
  const { lower, upper, rule } = characteristic;
  const decision = decide({
    value,
    standardUncertainty: uncertainty,
    rule,
    ...(lower === undefined ? {} : { lower }),
    ...(upper === undefined ? {} : { upper }),
  });
  if (decision.verdict === "pass") {
    const isVague = isLeakRate
      ? leakTooVague(characteristic, uncertainty)
      : figureTooVague(characteristic, value, uncertainty);
    if (isVague) {
      return { kind: "judged", decision: { verdict: "void", why: "TOO_VAGUE" }, value, uncertainty };
    }
  }
  return { kind: "judged", decision, value, uncertainty };
}

function planOf(
  characteristic: Characteristic,
  form: StoredForm,
  limits: ModelLimits,
  isSameFile: boolean,
): CharacteristicPlan {
  const place = placeOf(characteristic, form);
  const recorded = form.characteristics[place];
  const unit = recorded && unitOf(recorded);
  const stored = recorded && unit ? recorded : null;
  const step = limits.steps.find(({ name }) => name === characteristic.step);
  const rates = form.characteristics.slice(0, Math.max(0, place));
  const timesAt =
    PER_CHARACTERISTIC * form.characteristics.length +
    PER_LEAK_RATE * rates.filter(({ measurand }) => measurand === "leak_rate").length;
  return {
    characteristic,
    stored,
    at: PER_CHARACTERISTIC * place,
    unit: unit ?? null,
    isLeakRate: characteristic.measurand === "leak_rate",
    obstacle: stored && step && !isSameFile ? obstacleOf(stored, form, step) : null,
    timing: stored && step?.kind === "leak" && !isSameFile ? { at: timesAt, step } : null,
  };
}

function unitOf({ unit, measurand }: StoredCharacteristic): Unit | undefined {
  const found = findUnit(unit, DIMENSION_OF[measurand], { reference: HOUSE_REFERENCE });
  return found.ok ? found.value : undefined;
}

/** By name; else the only one of the same step, quantity and point, so that a new name does not hide it; -1 for none. */
function placeOf({ name, step, measurand, point }: Characteristic, { characteristics }: StoredForm): number {
  const same = characteristics.flatMap((it, i) =>
    it.step === step && it.measurand === measurand && it.point === point ? [{ i, name: it.name }] : [],
  );
  const byName = same.find((it) => it.name === name);
  return (byName ?? (same.length === 1 ? same[0] : undefined))?.i ?? -1;
}

function obstacleOf(
  stored: StoredCharacteristic,
  form: StoredForm,
  step: LeakStep | AirflowStep,
): NotRejudged | null {
  if (step.kind === "airflow") {
    const airflow = form.airflow.find((it) => it.step === step.name);
    return airflow && isMeasuredOtherwise(airflow, step) ? "other airflow conditions" : null;
  }
  const { how } = stored;
  if (!how) return null;
  const subtracts = step.method.kind !== "fitted" && step.method.subtractsMeanCurve;
  if (how.method !== step.method.kind || how.meanCurveSubtracted !== subtracts) return "other method";
  return (how.looks === "none") !== (step.earlyVerdict === null) ? "other early verdict" : null;
}

function isMeasuredOtherwise(
  { statedAt, points }: StoredForm["airflow"][number],
  { correction, supplyVoltage_V, points: asked }: AirflowStep,
): boolean {
  const isStatedAlike =
    statedAt === null || correction === null
      ? statedAt === correction
      : statedAt.supplyVoltage_V === supplyVoltage_V &&
        statedAt.speedPerDensity === correction.speedPerDensity &&
        statedAt.speedPerVoltage === correction.speedPerVoltage &&
        statedAt.exponentUncertainty === correction.exponentUncertainty;
  const hasOther = points.some(
    ({ point, orifice }) => asked.find(({ name }) => name === point)?.orifice !== orifice,
  );
  return !isStatedAlike || hasOther;
}

/** Of a leak rate that was measured; an early verdict may have ended it sooner. */
function timedOtherwise(
  { how }: StoredCharacteristic,
  step: LeakStep,
  numbers: Float64Array,
  at: number,
): NotRejudged | null {
  const from_s = numbers[at] ?? Number.NaN;
  const to_s = numbers[at + 1] ?? Number.NaN;
  const filled_Pa = numbers[at + 2] ?? Number.NaN;
  const { settle_s, measureLongest_s, testPressure_Pa, fillTolerance_Pa } = step;
  if (
    Math.abs(filled_Pa - testPressure_Pa) >
    fillTolerance_Pa + SAME_TEST_PRESSURE_WITHIN * Math.abs(testPressure_Pa)
  )
    return "other test pressure";
  if (Math.abs(from_s - settle_s) > TIMING_WITHIN_s) return "other settling time";
  const longer_s = to_s - (settle_s + measureLongest_s);
  if (longer_s > TIMING_WITHIN_s || (how?.looks !== "early" && longer_s < -TIMING_WITHIN_s))
    return "other measuring time";
  return null;
}
