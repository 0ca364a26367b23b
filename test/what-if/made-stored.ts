import { loadLimitFile } from "../../limits/limit-file.ts";
import { DIMENSION_OF } from "../../limits/measurand.ts";
import type { ModelLimits } from "../../limits/model.ts";
import { toUnit } from "../../limits/quantity.ts";
import type { StoredAttempt } from "../../station/records/read-stored-values.ts";
import type { StoredForm } from "../../station/records/stored-values.ts";

export const pod = loadLimitFile("limits/models/pod-4.yaml");

/** @returns the limits with another upper limit of the leak rate, mL/min */
export function withUpper(upper_mLmin: number, limits: ModelLimits = pod): ModelLimits {
  return {
    ...limits,
    characteristics: limits.characteristics.map((it) =>
      it.measurand === "leak_rate" ? { ...it, upper: upper_mLmin / 6e7 } : it,
    ),
  };
}

/** What a unit of the compact body, tested by its limits, has in common with others of the same verdict. */
export function podForm(more: Partial<StoredForm> = {}): StoredForm {
  return {
    model: "POD-4",
    recordKind: "unit",
    kind: "first",
    draft: false,
    station: "Demo station 1",
    simulated: true,
    verdict: "pass",
    codes: more.verdict === "fail" ? ["OUT_OF_LIMITS"] : [],
    limitFile: { revision: pod.revision, sha256: pod.source.sha256 },
    characteristics: pod.characteristics.map(
      ({ name, step, point, measurand, unit, lower, upper, rule }) => ({
        name,
        step,
        ...(point === undefined ? {} : { point }),
        measurand,
        unit,
        ...(lower === undefined ? {} : { lower: toUnit(lower, DIMENSION_OF[measurand], unit) }),
        ...(upper === undefined ? {} : { upper: toUnit(upper, DIMENSION_OF[measurand], unit) }),
        rule,
        verdict: measurand === "leak_rate" && more.verdict === "fail" ? ("fail" as const) : ("pass" as const),
        ...(measurand === "leak_rate"
          ? { how: { method: "fitted" as const, meanCurveSubtracted: false, looks: "early" as const } }
          : {}),
      }),
    ),
    airflow: [],
    ...more,
  };
}

/** Numbers of a sound unit with this leak rate, mL/min. */
export function podNumbers(leak_mLmin: number, uncertainty_mLmin = 0.5): Float64Array {
  const numbers = pod.characteristics.flatMap(({ measurand, unit, lower, upper }) => {
    if (measurand === "leak_rate") return [leak_mLmin, uncertainty_mLmin];
    const value = toUnit(1.05 * (lower ?? upper ?? 0), DIMENSION_OF[measurand], unit);
    return [value, 0.001 * value];
  });
  return Float64Array.of(...numbers, 0.3, 2.5, 4_990);
}

let sequence = 0;

export function storedAttempt(more: Partial<StoredAttempt> = {}): StoredAttempt {
  sequence++;
  return {
    sequence,
    form: podForm(),
    serial: `POD${sequence}`,
    attempt: 1,
    started_at: "2026-01-05T06:00:00.000Z",
    parts: '{"tub_cavity":"P1"}',
    numbers: podNumbers(10),
    goesOn: false,
    ...more,
  };
}
