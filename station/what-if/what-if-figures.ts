import { DIMENSION_OF } from "../../limits/measurand.ts";
import type { Characteristic, LeakStep } from "../../limits/model.ts";
import { toUnit } from "../../limits/quantity.ts";
import type { Figure } from "../quality/study-report.ts";
import type { LeakFinding } from "../replay-curves.ts";
import type { ReplayReport } from "../replay-records.ts";
import type { LeakReplay, ReplayedAttempt } from "../replay-summary.ts";
import type { JudgedHistory, WhatIfReport } from "./replay-values.ts";
import type { ChangedUnit, CharacteristicCounts, UnitCounts } from "./tally.ts";
import type { ReplayHead } from "./what-if-report.ts";
import { type Yield, type YieldChange, yieldChange } from "./what-if-summary.ts";

type Figures = Readonly<Record<string, Figure>>;

/** Judging again for programs: yields and differences as parts of one, limits in their units. */
export function valueFigures(head: ReplayHead, report: WhatIfReport): Figures {
  return {
    ...headFigures(head, false),
    values_from_index: report.source.indexed,
    attempts: report.attempts,
    simulated: report.simulated,
    drafts_left_out: report.drafts,
    references_left_out: report.references,
    broken: brokenFigures(report.broken),
    ...historyFigures(report),
  };
}

/** Measuring again for programs: values in the unit of the limits, standard uncertainties, times in seconds. */
export function curveFigures(head: ReplayHead, report: ReplayReport): Figures {
  return {
    ...headFigures(head, true),
    leak_steps: head.limits.steps.flatMap((step) => (step.kind === "leak" ? [stepFigures(step)] : [])),
    other_stations: Object.fromEntries(report.otherStations),
    attempts: report.attempts,
    simulated: report.simulated,
    drafts: report.drafts,
    references_left_out: report.referencesLeftOut,
    studies_left_out: report.studiesLeftOut,
    broken: brokenFigures(report.broken),
    calibrations: {
      settle: { ...report.calibrations.settle },
      volume: { ...report.calibrations.volume },
    },
    ...historyFigures(report.history),
    leak_rates: report.leaks.map(leakFigures),
  };
}

function headFigures(
  { limits, approvedBy, changes, recordsFolder, stationPath }: ReplayHead,
  fromCurves: boolean,
): Figures {
  return {
    limit_file: {
      path: limits.source.path,
      model: limits.model,
      revision: limits.revision,
      sha256: limits.source.sha256,
      approved_by: approvedBy,
    },
    changes,
    from_curves: fromCurves,
    records: recordsFolder,
    station: stationPath,
  };
}

function brokenFigures(broken: WhatIfReport["broken"]): Figure {
  return broken.map(({ path, problem }) => ({ path, problem }));
}

function historyFigures(history: JudgedHistory): Figures {
  const { tally } = history;
  return {
    revisions: Object.fromEntries(history.revisions),
    by_same_file: history.bySameFile,
    held_left_out: history.held,
    void_attempts: history.voids,
    void_attempts_decided_now: {
      to_pass: tally.voids.toPass,
      to_fail: tally.voids.toFail,
      changed: tally.voids.changed.map(changedFigures),
    },
    units: tally.units,
    units_without_first_inspection: tally.notFirst,
    units_without_valid_attempt: tally.notValid,
    units_passed_sooner: tally.passedSooner,
    first_pass_yield: {
      ...changeFigures(tally.first),
      changed: tally.changedFirst.map(changedFigures),
      changed_not_named: tally.unnamed("first"),
    },
    final_yield: {
      ...changeFigures(tally.last),
      changed: tally.changedLast.map(changedFigures),
      changed_not_named: tally.unnamed("last"),
    },
    by_part: Object.fromEntries(
      [...tally.parts()].map(([part, groups]) => [part, groups && groupFigures(groups)]),
    ),
    by_shift: groupFigures(tally.shifts),
    characteristics: tally.characteristics.map(characteristicFigures),
  };
}

function groupFigures(groups: ReadonlyMap<string, UnitCounts>): Figures {
  return Object.fromEntries([...groups].map(([name, counts]) => [name, changeFigures(counts)]));
}

function changeFigures(counts: UnitCounts): Figures {
  const it: YieldChange = yieldChange(counts);
  return {
    units: it.units,
    pass_both: it.passBoth,
    fail_both: it.failBoth,
    fail_without_value: it.keptFail,
    pass_to_fail: it.passToFail,
    fail_to_pass: it.failToPass,
    to_void: it.toVoid,
    not_judged_again: it.notRejudged,
    compared: it.compared,
    before: yieldFigures(it.before),
    after: yieldFigures(it.after),
    of_all_units: it.ofAll && {
      before: it.ofAll.before,
      after_least: it.ofAll.afterLeast,
      after_most: it.ofAll.afterMost,
    },
    difference: it.difference && { ...it.difference },
  };
}

function yieldFigures(it: Yield | null): Figure {
  return it && { ...it };
}

function changedFigures(it: ChangedUnit): Figure {
  return { ...it };
}

function limitFigures({ name, unit, measurand, lower, upper, rule }: Characteristic): Figures {
  const shown = (limit: number) => toUnit(limit, DIMENSION_OF[measurand], unit);
  return {
    characteristic: name,
    unit,
    ...(lower === undefined ? {} : { lower: shown(lower) }),
    ...(upper === undefined ? {} : { upper: shown(upper) }),
    rule: { ...rule },
  };
}

function characteristicFigures(it: CharacteristicCounts): Figure {
  return {
    ...limitFigures(it.characteristic),
    judged: it.judged,
    fail_before: it.failBefore,
    fail_after: it.failAfter,
    pass_to_fail: it.passFail,
    fail_to_pass: it.failPass,
    to_void: it.toVoid,
    guard_band_before: it.guardBefore,
    guard_band_after: it.guardAfter,
    marginal_before: it.marginalBefore,
    marginal_after: it.marginalAfter,
    changed_after_early_verdict: it.changedEarly,
    not_judged_again: Object.fromEntries(it.notJudged),
  };
}

function stepFigures({ name, method, settle_s, measureLongest_s, earlyVerdict }: LeakStep): Figure {
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

function leakFigures(leak: LeakReplay): Figure {
  const { characteristic, piece, counts, early, grossLeaks, change, step_s, changed, attempts } = leak;
  return {
    ...limitFigures(characteristic),
    reference_piece: piece,
    counts: Object.fromEntries(Object.entries(counts).map(([before, row]) => [before, { ...row }])),
    early,
    gross_leaks: grossLeaks,
    change: change && { ...change, least: { ...change.least }, greatest: { ...change.greatest } },
    step_s: step_s && { ...step_s },
    changed: changed.map(attemptFigures),
    changed_not_named: leak.changedCount - changed.length,
    ...(attempts.length > 0 ? { all: attempts.map(attemptFigures) } : {}),
  };
}

function attemptFigures({ before, after, ...attempt }: ReplayedAttempt): Figure {
  const known = { ...attempt, before: findingFigures(before) };
  if (after.kind === "not measured")
    return { ...known, after: null, why: after.why, sentence: after.sentence };
  const { finding, ...how } = after;
  return { ...known, after: findingFigures(finding), ...how };
}

function findingFigures(it: LeakFinding | null): Figure {
  return it && { ...it };
}
