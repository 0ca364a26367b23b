import type { LeakStep } from "../limits/model.ts";
import { toUnit } from "../limits/quantity.ts";
import type { ReplayReport } from "./replay-records.ts";
import type { LeakReplay, ReplayedAttempt } from "./replay-summary.ts";
import type { ReplayHead } from "./replay-text.ts";

/** A replay for programs: values in the unit of the limits, standard uncertainties, times in seconds. */
export function replayJson(head: ReplayHead, report: ReplayReport) {
  const { limits, approvedBy, changes, recordsFolder, stationPath } = head;
  return {
    limit_file: {
      path: limits.source.path,
      model: limits.model,
      revision: limits.revision,
      sha256: limits.source.sha256,
      approved_by: approvedBy,
    },
    changes,
    leak_steps: limits.steps.flatMap((step) => (step.kind === "leak" ? [stepJson(step)] : [])),
    records: recordsFolder,
    station: stationPath,
    other_stations: Object.fromEntries(report.otherStations),
    attempts: report.attempts,
    drafts: report.drafts,
    simulated: report.simulated,
    references_left_out: report.referencesLeftOut,
    studies_left_out: report.studiesLeftOut,
    broken: report.broken,
    calibrations: report.calibrations,
    leak_rates: report.leaks.map(leakJson),
  };
}

function stepJson({ name, method, settle_s, measureLongest_s, earlyVerdict }: LeakStep) {
  return {
    name,
    method: method.kind,
    ...(method.kind === "fitted" ? {} : { subtract_mean_curve: method.subtractsMeanCurve }),
    settle_s,
    measure_longest_s: measureLongest_s,
    early_verdict: earlyVerdict && {
      measure_shortest_s: earlyVerdict.measureShortest_s,
      look_every_s: earlyVerdict.lookEvery_s,
      false_accept: earlyVerdict.falseAccept,
      false_reject: earlyVerdict.falseReject,
    },
  };
}

function leakJson({
  characteristic,
  piece,
  counts,
  early,
  grossLeaks,
  change,
  step_s,
  changed,
  attempts,
}: LeakReplay) {
  const { name, unit, lower, upper, rule } = characteristic;
  return {
    characteristic: name,
    reference_piece: piece,
    unit,
    ...(lower === undefined ? {} : { lower: toUnit(lower, "leakRate", unit) }),
    ...(upper === undefined ? {} : { upper: toUnit(upper, "leakRate", unit) }),
    rule,
    counts,
    early,
    gross_leaks: grossLeaks,
    change,
    step_s,
    changed: changed.map(attemptJson),
    ...(attempts.length > 0 ? { all: attempts.map(attemptJson) } : {}),
  };
}

function attemptJson({ after, ...attempt }: ReplayedAttempt) {
  if (after.kind === "not measured")
    return { ...attempt, after: null, why: after.why, sentence: after.sentence };
  const { finding, ...how } = after;
  return { ...attempt, after: finding, ...how };
}
