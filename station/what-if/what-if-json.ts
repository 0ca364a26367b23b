import { DIMENSION_OF } from "../../limits/measurand.ts";
import { toUnit } from "../../limits/quantity.ts";
import type { ReplayHead } from "../replay-text.ts";
import type { WhatIfReport } from "./replay-values.ts";
import type { ChangedUnit, CharacteristicCounts, UnitCounts } from "./tally.ts";
import { type YieldChange, yieldChange } from "./what-if-summary.ts";

/** Judging again for programs: yields and differences as parts of one, limits in their units. */
export function whatIfJson(head: ReplayHead, report: WhatIfReport) {
  const { limits, approvedBy, changes, recordsFolder, stationPath } = head;
  const { tally, source } = report;
  return {
    limit_file: {
      path: limits.source.path,
      model: limits.model,
      revision: limits.revision,
      sha256: limits.source.sha256,
      approved_by: approvedBy,
    },
    changes,
    from_curves: false,
    records: recordsFolder,
    station: stationPath,
    values_from_index: source.indexed,
    attempts: report.attempts,
    revisions: Object.fromEntries(report.revisions),
    by_same_file: report.bySameFile,
    drafts_left_out: report.drafts,
    references_left_out: report.references,
    held_left_out: report.held,
    void_attempts: report.voids,
    simulated: report.simulated,
    broken: report.broken,
    units: tally.units,
    units_without_first_inspection: tally.notFirst,
    units_without_valid_attempt: tally.notValid,
    first_pass_yield: {
      ...changeJson(tally.first),
      ...namedJson(tally.changedFirst, tally.unnamed("first")),
    },
    final_yield: { ...changeJson(tally.last), ...namedJson(tally.changedLast, tally.unnamed("last")) },
    by_part: Object.fromEntries(
      [...tally.parts()].map(([part, groups]) => [part, groups && groupsJson(groups)]),
    ),
    by_shift: groupsJson(tally.shifts),
    characteristics: tally.characteristics.map(characteristicJson),
  };
}

function groupsJson(groups: ReadonlyMap<string, UnitCounts>) {
  return Object.fromEntries([...groups].map(([name, counts]) => [name, changeJson(counts)]));
}

function changeJson(counts: UnitCounts) {
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
    before: it.before,
    after: it.after,
    difference: it.difference,
  };
}

function namedJson(changed: readonly ChangedUnit[], left: number) {
  return { changed, changed_not_named: left };
}

function characteristicJson(it: CharacteristicCounts) {
  const { name, unit, measurand, lower, upper, rule } = it.characteristic;
  const shown = (limit: number) => toUnit(limit, DIMENSION_OF[measurand], unit);
  return {
    characteristic: name,
    unit,
    ...(lower === undefined ? {} : { lower: shown(lower) }),
    ...(upper === undefined ? {} : { upper: shown(upper) }),
    rule,
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
