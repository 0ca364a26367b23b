import type { LeakMethod, ModelLimits } from "../../limits/model.ts";
import { formatNumber } from "../../limits/print-quantity.ts";
import type { StudyReport } from "../quality/study-report.ts";
import type { ReplayReport } from "../replay-records.ts";
import { leakNotes, leakTables } from "./curve-tables.ts";
import type { JudgedHistory, WhatIfReport } from "./replay-values.ts";
import {
  changedData,
  changedTables,
  characteristicTable,
  groupCharts,
  groupTables,
  notJudgedNotes,
  yieldTable,
} from "./unit-tables.ts";
import { curveFigures, valueFigures } from "./what-if-figures.ts";
import { type YieldChange, yieldChange } from "./what-if-summary.ts";
import { counted, percent } from "./what-if-words.ts";

/** What was replayed, for the head of the report. */
export interface ReplayHead {
  readonly limits: ModelLimits;
  /** Null for limits that nobody has approved. */
  readonly approvedBy: string | null;
  /** As typed, like "--settle 5 s". */
  readonly changes: readonly string[];
  readonly recordsFolder: string;
  readonly stationPath: string;
}

/** Recorded values judged again, and nothing measured. */
export function valuesReport(head: ReplayHead, report: WhatIfReport, all: boolean): StudyReport {
  const it = reportOf(head, report, all);
  return {
    ...it,
    conclusion: `${it.conclusion}${noForecast(report)}`,
    notes: [
      "Judged again from the recorded values and uncertainties; nothing was measured again.",
      ...historyNotes(report),
      ...earlyNotes(report),
      ...brokenNotes(report.broken.length),
    ],
    figures: valueFigures(head, report),
  };
}

/** Leak rates measured again from stored curves, and everything else judged again from its recorded value. */
export function curvesReport(head: ReplayHead, report: ReplayReport, all: boolean): StudyReport {
  const { history, leaks } = report;
  const units = reportOf(head, history, all);
  return {
    ...units,
    tables: [...units.tables, ...leaks.flatMap(leakTables)],
    notes: [
      ...head.limits.steps.flatMap((step) =>
        step.kind === "leak"
          ? [
              `Measured again from the stored curves: ${step.name}: ${methodText(step.method)}, settle ${seconds(step.settle_s)}, measure ${step.earlyVerdict ? `${seconds(step.earlyVerdict.measureShortest_s)} to ` : ""}${seconds(step.measureLongest_s)}.`,
            ]
          : [],
      ),
      "What is no leak rate was judged again from its recorded value.",
      `Station file: ${head.stationPath}; settle calibration: ${originText(report.calibrations.settle)}; volume calibration: ${originText(report.calibrations.volume)}.`,
      ...leaks.flatMap(leakNotes),
      ...(report.drafts > 0
        ? [
            `${counted(report.drafts, "attempt")} with draft limits: in the tables of leak rates, and in no yield.`,
          ]
        : []),
      ...(report.referencesLeftOut > 0
        ? [`${counted(report.referencesLeftOut, "attempt")} on reference pieces left out (--references).`]
        : []),
      ...(report.studiesLeftOut > 0
        ? [`${counted(report.studiesLeftOut, "attempt")} for studies left out.`]
        : []),
      ...historyNotes({ ...history, references: 0, drafts: 0 }),
      ...brokenNotes(report.broken.length),
    ],
    figures: curveFigures(head, report),
  };
}

function reportOf(head: ReplayHead, history: JudgedHistory, all: boolean) {
  const { tally } = history;
  return {
    title: "What other limits would have said",
    question: "Which verdicts change?",
    subject: subjectOf(head, history),
    conclusion: conclusionOf(yieldChange(tally.first)),
    answer: "none" as const,
    bands: [],
    tables: [
      yieldTable(tally),
      ...groupTables(tally),
      characteristicTable(tally.characteristics),
      ...changedTables(tally, all),
    ],
    charts: groupCharts(tally),
    data: changedData(tally),
  };
}

function subjectOf(
  { limits, approvedBy, changes, recordsFolder }: ReplayHead,
  history: JudgedHistory,
): string {
  const { model, revision } = limits;
  const whose =
    approvedBy === null ? "approved by nobody whom this station lists" : `approved by ${approvedBy}`;
  const changed = changes.length > 0 ? `; changed here: ${changes.join(", ")}` : "";
  const simulated = history.simulated > 0 ? ` (${history.simulated} simulated)` : "";
  return `${model} revision ${revision}, ${whose}${changed}; ${counted(history.attempts, "attempt")} in ${recordsFolder}${simulated}`;
}

function conclusionOf(change: YieldChange): string {
  const { before, after, compared, units, passToFail, failToPass, ofAll } = change;
  const left = units - compared;
  const apart =
    left > 0 && ofAll
      ? ` ${counted(left, "more unit")} can't be compared: of all ${units} the yield was ${percent(ofAll.before)} and would be between ${percent(ofAll.afterLeast)} and ${percent(ofAll.afterMost)}.`
      : "";
  if (!before || !after) return `No unit can be compared.${apart}`;
  const changes = `${passToFail} from pass to fail, ${failToPass} from fail to pass`;
  if (passToFail + failToPass === 0)
    return `By these limits no unit's first verdict changes: ${percent(after.yield)} of ${counted(compared, "unit")} good at first.${apart}`;
  return `By these limits ${percent(after.yield)} of ${counted(compared, "unit")} would have been good at their first inspection instead of ${percent(before.yield)}: ${changes}.${apart}`;
}

function historyNotes(history: Omit<JudgedHistory, "attempts">): string[] {
  const { tally } = history;
  const revisions = [...history.revisions].sort(([a], [b]) => a - b);
  const left = [
    [history.references, "of reference pieces"],
    [history.drafts, "with draft limits or for a study"],
    [history.held, "held and not released"],
  ].flatMap(([count, what]) => (count === 0 ? [] : [`${count} ${what}`]));
  const kept = yieldChange(tally.first).keptFail;
  const former = tally.voids.toPass + tally.voids.toFail;
  const serials = [...tally.parts()].flatMap(([part, groups]) => (groups ? [] : [part]));
  return [
    ...(revisions.length > 0
      ? [
          `Judged at the time by ${revisions.map(([number, count]) => `revision ${number}: ${count}`).join(", ")}.`,
        ]
      : []),
    ...(left.length > 0 ? [`Attempts left out: ${left.join("; ")}.`] : []),
    ...(history.voids > 0
      ? [`${counted(history.voids, "void attempt counts", "void attempts count")} for nothing.`]
      : []),
    ...(former > 0
      ? [
          `${counted(former, "void attempt")} would have had a verdict, ${tally.voids.toPass} pass and ${tally.voids.toFail} fail: the value was too uncertain for the limits of its day. In the yields such units count by their valid tests only.`,
        ]
      : []),
    ...(tally.notFirst > 0
      ? [
          `${counted(tally.notFirst, "unit was", "units were")} inspected first before these attempts or in doubt: in the final yield only.`,
        ]
      : []),
    ...(tally.notValid > 0
      ? [`${counted(tally.notValid, "unit has", "units have")} no valid test among these attempts.`]
      : []),
    ...(kept > 0
      ? [
          `${kept} of the fails ${kept === 1 ? "was" : "were"} found without a value (gross leak, motor): no limit decides ${kept === 1 ? "it, and it stays" : "them, and they stay"}.`,
        ]
      : []),
    ...(tally.passedSooner > 0
      ? [
          `${counted(tally.passedSooner, "unit")} would have passed sooner, and not been tested again; by the newest test ${tally.passedSooner === 1 ? "it counts" : "they count"} as a fail.`,
        ]
      : []),
    ...notJudgedNotes(tally.characteristics),
    ...(serials.length > 0
      ? [`Not grouped by ${serials.join(", ")}: nearly every unit has a number of its own.`]
      : []),
    "Guard band: fails within the limits, not by enough to be sure. Marginal: passes whose expanded uncertainty (k = 2) reaches a limit.",
    "Yields as in ISO 22400-2, with exact intervals (Clopper-Pearson); the difference is of the same units, its interval by Bonett and Price.",
  ];
}

/** Of recorded values; a curve that is measured again has looks of its own. */
function earlyNotes({ tally }: Pick<JudgedHistory, "tally">): string[] {
  return tally.characteristics.flatMap(({ characteristic: { name }, changedEarly }) =>
    changedEarly === 0
      ? []
      : [
          `${counted(changedEarly, "verdict")} on ${name} ${changedEarly === 1 ? "changes" : "change"} after an early verdict: by these limits the station would have measured for another time, so near a limit it may judge otherwise.`,
        ],
  );
}

/** Nobody is to take for a yield to come what only comes of values known too roughly for these limits. */
function noForecast({ tally }: Pick<JudgedHistory, "tally">): string {
  const early = tally.characteristics.reduce((sum, { changedEarly }) => sum + changedEarly, 0);
  if (early === 0) return "";
  return ` But ${counted(early, "verdict")} ${early === 1 ? "changes" : "change"} on values of early verdicts, where the station would have measured on: this is no forecast.`;
}

function brokenNotes(broken: number): string[] {
  return broken === 0
    ? []
    : [`${counted(broken, "traveller is", "travellers are")} not as recorded and left out.`];
}

function methodText(method: LeakMethod): string {
  if (method.kind === "fitted") return "fitted";
  return method.subtractsMeanCurve ? `${method.kind}, mean curve subtracted` : method.kind;
}

function originText(origin: ReplayReport["calibrations"]["settle"]): string {
  const parts = Object.entries(origin).filter(([, count]) => count > 0);
  if (parts.every(([where]) => where === "none")) return "none";
  return parts.map(([where, count]) => `${where} for ${count}`).join(", ");
}

function seconds(time_s: number): string {
  return `${formatNumber(time_s)} s`;
}
