import { judge } from "../../limits/judge.ts";
import type { DecisionRule, EarlyVerdictRule, LeakMethod, LeakStep } from "../../limits/model.ts";
import type { DecayCurve } from "../../station/measure/leak/decay-fit.ts";
import { LeakLooks } from "../../station/measure/leak/leak-looks.ts";
import {
  type LeakConditions,
  type LeakMeasurement,
  measureLeakRate,
} from "../../station/measure/leak/leak-rate.ts";

/** What a station knows when a unit is put on. */
export interface LeakStation {
  readonly conditions: LeakConditions;
  /** Largest leak rate, m3/s at the house reference. */
  readonly limit_m3_s: number;
  readonly rule: DecisionRule;
  readonly step: LeakStep & { readonly earlyVerdict: EarlyVerdictRule };
}

/** A curve since the shut-off, in arrays that are cheap to cut. */
export interface Curve {
  readonly t_s: Float64Array;
  readonly pressure_Pa: Float64Array;
}

export interface Timing {
  readonly settle_s: number;
  readonly measure_s: number;
}

export interface Outcome {
  readonly verdict: "accept" | "reject" | "void";
  /** From shut-off to verdict. */
  readonly time_s: number;
}

/** Settle, measure, judge: nothing is decided before the end. */
export function byFixedTimer(
  station: LeakStation,
  method: LeakMethod,
  timing: Timing,
  curve: Curve,
): Outcome {
  const time_s = timing.settle_s + timing.measure_s;
  const part = cut(curve, timing.settle_s, time_s);
  return { verdict: judged(station, measureLeakRate(part, method, station.conditions)), time_s };
}

/** The station's early verdict, as its limit file has it: look by look on the growing curve, else judged at the end. */
export function byEarlyVerdict(station: LeakStation, curve: Curve): Outcome {
  const { conditions, limit_m3_s, step } = station;
  const { settle_s, method, measureLongest_s, earlyVerdict: rule } = step;
  const limits = [{ upper: limit_m3_s }];
  const looks = new LeakLooks({ limits, rule, measureLongest_s, method, conditions });
  const atEnd = (measure_s: number) => byFixedTimer(station, method, { settle_s, measure_s }, curve);
  for (let elapsed_s = rule.measureShortest_s; elapsed_s < measureLongest_s; elapsed_s += rule.lookEvery_s) {
    if (looks.take(cut(curve, settle_s, settle_s + elapsed_s), elapsed_s)) return atEnd(elapsed_s);
  }
  return atEnd(measureLongest_s);
}

/** An emptied body is rejected, a curve without an answer is neither accepted nor rejected. */
function judged({ limit_m3_s, rule }: LeakStation, found: LeakMeasurement): Outcome["verdict"] {
  if (found.kind === "lost") return "reject";
  if (found.kind === "void") return "void";
  const { value_m3_s: value, uncertainty_m3_s: standardUncertainty } = found.leak;
  const { verdict } = judge({ value, standardUncertainty, upper: limit_m3_s, rule });
  return verdict === "pass" ? "accept" : verdict === "fail" ? "reject" : "void";
}

/** Samples of a part of the curve, its ends included. */
export function cut({ t_s, pressure_Pa }: Curve, from_s: number, to_s: number): DecayCurve {
  const from = firstFrom(t_s, from_s);
  const to = firstFrom(t_s, to_s + 1e-9);
  return { t_s: t_s.subarray(from, to), pressure_Pa: pressure_Pa.subarray(from, to) };
}

/** Place of the first time that is not before this one. */
function firstFrom(t_s: Float64Array, from_s: number): number {
  let low = 0;
  let high = t_s.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((t_s[middle] as number) < from_s) low = middle + 1;
    else high = middle;
  }
  return low;
}
