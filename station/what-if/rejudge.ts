import { outcomeOf, type PreparedLimits, prepareLimits } from "../../limits/judge.ts";
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
const NOT_REJUDGED = [
  // There was no valid measurement, whatever the limits.
  "void",
  // The limits judge something that this history has not.
  "not in the history",
  // An earlier step had failed, so that this was not measured; now the unit would have gone on.
  "not reached",
  // Measured otherwise than these limits ask for: only its curve can tell.
  "other method",
  "other settling time",
  "other measuring time",
  "other early verdict",
  "other test pressure",
  // Stated at another voltage or by another correction, or through other orifices.
  "other airflow conditions",
  // Of a leak rate that was to be measured again.
  "no curve",
  "curve too short",
  "no settle calibration",
] as const;

export type NotRejudged = (typeof NOT_REJUDGED)[number];

/** A leak rate that was measured again from its curve, and judged by the station's rules. */
export type MeasuredAgain =
  | {
      readonly kind: "measured";
      readonly verdict: "pass" | "fail" | "void";
      /** SI; null where there is none, or where it is an estimate. */
      readonly value: number | null;
      readonly uncertainty: number | null;
    }
  | { readonly kind: "not measured"; readonly why: NotRejudged };

/**
 * What limits say of each characteristic of one recorded attempt, in the limits' order. One object serves a million attempts, each
 * in the place of the one before.
 */
export interface JudgedValues {
  /** Null where nothing can be said, and `whys` says why. */
  readonly verdicts: ("pass" | "fail" | "void" | null)[];
  readonly whys: (NotRejudged | null)[];
  /** SI; NaN where there is none. */
  readonly values: Float64Array;
  readonly uncertainties: Float64Array;
}

/** What limits say of a recorded attempt. */
export type Rejudged =
  | {
      readonly verdict: "pass" | "fail" | "void";
      /** A fail that no limit decided: a body that could not be filled, a motor that did not start. */
      readonly isKept: boolean;
    }
  | { readonly verdict: null; readonly why: NotRejudged };

const PASS: Rejudged = { verdict: "pass", isKept: false };
const FAIL: Rejudged = { verdict: "fail", isKept: false };
const KEPT_FAIL: Rejudged = { verdict: "fail", isKept: true };
const VOID: Rejudged = { verdict: "void", isKept: false };
const UNKNOWN = Object.fromEntries(NOT_REJUDGED.map((why) => [why, { verdict: null, why }])) as Record<
  NotRejudged,
  Rejudged
>;

/** The curve's first and last sample are up to so far from the times asked for. */
const TIMING_WITHIN_s = 0.15;
/** As for curves: a fill may end this part of the test pressure away, besides its tolerance. */
const SAME_TEST_PRESSURE_WITHIN = 0.1;

/** How one of the new limits' characteristics is judged from the numbers of a form. */
export interface CharacteristicPlan {
  readonly characteristic: Characteristic;
  readonly limits: PreparedLimits;
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
  /** Void by something else than a value too uncertain for the limits of its day. */
  readonly isNeverValid: boolean;
}

/**
 * Judges recorded attempts of a model by other limits, by the station's own rules, with the values and uncertainties that were
 * recorded: by the limits that judged an attempt, its recorded verdict comes out again.
 */
export class Rejudging {
  readonly #limits: ModelLimits;
  readonly #plans = new Map<StoredForm, FormPlan>();
  readonly judged: JudgedValues;

  /** @param limits of a file; others than the file's may judge, but the steps must be as they stand in it */
  constructor(limits: ModelLimits) {
    this.#limits = limits;
    const count = limits.characteristics.length;
    this.judged = {
      verdicts: limits.characteristics.map(() => null),
      whys: limits.characteristics.map(() => null),
      values: new Float64Array(count),
      uncertainties: new Float64Array(count),
    };
  }

  planOf(form: StoredForm): FormPlan {
    const known = this.#plans.get(form);
    if (known) return known;
    const isSameFile = form.limitFile.sha256 === this.#limits.source.sha256;
    const plan: FormPlan = {
      form,
      characteristics: this.#limits.characteristics.map((it) => planOf(it, form, this.#limits, isSameFile)),
      isFound: form.verdict === "fail" && form.codes.some((code) => code !== "OUT_OF_LIMITS"),
      isNeverValid: form.verdict === "void" && form.codes.some((code) => code !== "NOT_MEASURED"),
    };
    this.#plans.set(form, plan);
    return plan;
  }

  /**
   * @param numbers of the attempt, as the form orders them
   * @param again leak rates that were measured again, in the limits' order of all characteristics; null for none
   * @returns what becomes of the attempt; of its characteristics, `judged`, unless nothing was valid by any limits
   */
  rejudge(
    { form, characteristics, isFound, isNeverValid }: FormPlan,
    numbers: Float64Array,
    again: readonly (MeasuredAgain | undefined)[] | null = null,
  ): Rejudged {
    if (isNeverValid) return UNKNOWN.void;
    let isFailed = isFound;
    let isEstimated = isFound;
    let isVoid = false;
    let missing: Rejudged | null = null;
    const { verdicts, whys, uncertainties } = this.judged;
    for (let i = 0; i < characteristics.length; i++) {
      const plan = characteristics[i] as CharacteristicPlan;
      const measured = again?.[i];
      if (measured) this.#take(i, measured);
      else this.#judge(i, plan, numbers);
      const verdict = verdicts[i];
      if (verdict === "fail") {
        isFailed = true;
        isEstimated ||= Number.isNaN(uncertainties[i]);
      } else if (verdict === "void") isVoid = true;
      else if (verdict === null) missing ??= UNKNOWN[whys[i] as NotRejudged];
    }
    // A fail is a fail whatever else is not known; and a pass needs everything.
    if (isFailed) return isEstimated ? KEPT_FAIL : FAIL;
    if (missing) return form.verdict === "void" ? UNKNOWN.void : missing;
    return isVoid ? VOID : PASS;
  }

  #take(i: number, measured: MeasuredAgain): void {
    const { verdicts, whys, values, uncertainties } = this.judged;
    const isMeasured = measured.kind === "measured";
    verdicts[i] = isMeasured ? measured.verdict : null;
    whys[i] = isMeasured ? null : measured.why;
    values[i] = isMeasured ? (measured.value ?? Number.NaN) : Number.NaN;
    uncertainties[i] = isMeasured ? (measured.uncertainty ?? Number.NaN) : Number.NaN;
  }

  #judge(i: number, plan: CharacteristicPlan, numbers: Float64Array): void {
    const { verdicts, whys, values, uncertainties } = this.judged;
    const { stored, at, unit, obstacle, timing } = plan;
    let why: NotRejudged | null = obstacle;
    let value = Number.NaN;
    let uncertainty = Number.NaN;
    if (!stored || !unit) why = "not in the history";
    else if (why === null) {
      value = numbers[at] ?? Number.NaN;
      uncertainty = numbers[at + 1] ?? Number.NaN;
      if (Number.isNaN(value) || Number.isNaN(uncertainty)) why = "not reached";
      else {
        if (timing) why = timedOtherwise(stored, timing.step, numbers, timing.at);
        value = toSI(value, unit);
        uncertainty = toSI(uncertainty, unit);
      }
    }
    whys[i] = why;
    values[i] = value;
    uncertainties[i] = uncertainty;
    verdicts[i] = why === null ? verdictOn(plan, value, uncertainty) : null;
  }
}

/** As the station judges a value that was measured. */
function verdictOn(
  { characteristic, limits, isLeakRate }: CharacteristicPlan,
  value: number,
  uncertainty: number,
): "pass" | "fail" | "void" {
  switch (outcomeOf(limits, value, uncertainty)) {
    case "CONFORMS": {
      const isVague = isLeakRate
        ? leakTooVague(characteristic, uncertainty)
        : figureTooVague(characteristic, value, uncertainty);
      return isVague ? "void" : "pass";
    }
    case "ABOVE_UPPER_LIMIT":
    case "BELOW_LOWER_LIMIT":
    case "IN_UPPER_GUARD_BAND":
    case "IN_LOWER_GUARD_BAND":
      return "fail";
    default:
      return "void";
  }
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
    limits: prepareLimits(characteristic),
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
