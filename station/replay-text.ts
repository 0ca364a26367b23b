import type { Characteristic, LeakMethod, ModelLimits } from "../limits/model.ts";
import { formatNumber, formatQuantity } from "../limits/print-quantity.ts";
import { toUnit } from "../limits/quantity.ts";
import { measuredText } from "./records/attempt-text.ts";
import type { LeakFinding } from "./replay-curves.ts";
import type { ReplayReport } from "./replay-records.ts";
import { AFTER, BEFORE, type LeakReplay, type ReplayedAttempt } from "./replay-summary.ts";

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

/** A replay for people to read. */
export function replayText(head: ReplayHead, report: ReplayReport): string {
  return [headLines(head, report), ...report.leaks.map(leakLines)]
    .map((lines) => lines.join("\n"))
    .join("\n\n");
}

function headLines(
  { limits, approvedBy, changes, recordsFolder, stationPath }: ReplayHead,
  report: ReplayReport,
) {
  const { model, revision } = limits;
  const whose = approvedBy === null ? "a draft, not approved" : `approved by ${approvedBy}`;
  const changed = changes.length > 0 ? `; changed here: ${changes.join(", ")}` : "";
  const marks = [
    ...(report.simulated > 0 ? [`${report.simulated} simulated`] : []),
    ...(report.drafts > 0 ? [`${report.drafts} with draft limits`] : []),
  ];
  const left = [
    ...(report.referencesLeftOut > 0 ? [`${report.referencesLeftOut} of reference pieces left out`] : []),
    ...(report.studiesLeftOut > 0 ? [`${report.studiesLeftOut} for studies left out`] : []),
    ...(report.broken.length > 0 ? [`${report.broken.length} broken, skipped`] : []),
  ];
  return [
    `${model} revision ${revision}, ${whose}${changed}`,
    ...limits.steps.flatMap((step) =>
      step.kind === "leak"
        ? [
            `${step.name}: ${methodText(step.method)}, settle ${seconds(step.settle_s)}, measure ${step.earlyVerdict ? `${seconds(step.earlyVerdict.measureShortest_s)} to ` : ""}${seconds(step.measureLongest_s)}`,
          ]
        : [],
    ),
    [
      `${report.attempts} ${report.attempts === 1 ? "attempt" : "attempts"} in ${recordsFolder}`,
      ...(marks.length > 0 ? [` (${marks.join(", ")})`] : []),
      ...(left.length > 0 ? [`; ${left.join(", ")}`] : []),
    ].join(""),
    `station file: ${stationPath}; settle calibration: ${originText(report.calibrations.settle)}; volume calibration: ${originText(report.calibrations.volume)}`,
  ];
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

function leakLines(leak: LeakReplay): string[] {
  const { characteristic, change, step_s, changed, attempts } = leak;
  const { unit } = characteristic;
  const tooShort = BEFORE.reduce((sum, before) => sum + leak.counts[before]["curve too short"], 0);
  const listed = attempts.length > 0 ? attempts : changed;
  const signed = (value: number) =>
    `${value < 0 ? "-" : "+"}${formatNumber(Math.abs(value), { significant: 3 })}`;
  return [
    ...tableLines(leak),
    "",
    ...(change && (change.least.value !== 0 || change.greatest.value !== 0)
      ? [
          `change of value: median ${signed(change.median)} ${unit}, from ${signed(change.least.value)} (${printable(change.least.serial)}) to ${signed(change.greatest.value)} (${printable(change.greatest.serial)}), of ${change.attempts} measured`,
        ]
      : change
        ? [`no value changes, of ${change.attempts} measured`]
        : []),
    ...(step_s
      ? [
          `leak step, median: ${step_s.before.toFixed(1)} s recorded, ${step_s.after.toFixed(1)} s now${leak.early > 0 ? `, ${leak.early} by an early verdict` : ""}`,
        ]
      : []),
    ...(tooShort > 0
      ? [
          `${tooShort} ${tooShort === 1 ? "curve ends" : "curves end"} before a verdict by these settings, and nothing is guessed`,
        ]
      : []),
    ...(leak.grossLeaks > 0
      ? [
          `${leak.grossLeaks} that could not be filled ${leak.grossLeaks === 1 ? "keeps its" : "keep their"} verdict`,
        ]
      : []),
    `${changed.length} ${changed.length === 1 ? "verdict changes" : "verdicts change"}`,
    ...listed.map((attempt) => `  ${attemptLine(attempt, characteristic)}`),
  ];
}

/** Columns of curves that could not be measured again are there only where there are such. */
function tableLines({ characteristic, piece, counts }: LeakReplay): string[] {
  const columns = AFTER.filter((after, i) => i < 3 || BEFORE.some((before) => counts[before][after] > 0));
  const rows = BEFORE.filter((before, i) => i < 3 || AFTER.some((after) => counts[before][after] > 0));
  const heads = columns.map((after, i) => (i < 3 ? `now ${after}` : after));
  const judged =
    piece === null
      ? `${characteristic.name}, ${limitsText(characteristic)}`
      : `${characteristic.name} of reference piece ${printable(piece)}, by its certificate ${limitsText(characteristic)}`;
  const wide = Math.max(...rows.map((before) => `was ${before}`.length));
  return [
    judged,
    ["".padEnd(wide), ...heads].join("  "),
    ...rows.map((before) =>
      [
        (before === "not judged" ? before : `was ${before}`).padEnd(wide),
        ...columns.map((after, i) => String(counts[before][after]).padStart(heads[i]?.length ?? 0)),
      ].join("  "),
    ),
  ];
}

function limitsText({ lower, upper, unit, rule }: Characteristic): string {
  const shown = (value: number) => formatQuantity(value, "leakRate", unit);
  const limits = [
    ...(lower === undefined ? [] : [`at least ${shown(lower)}`]),
    ...(upper === undefined ? [] : [`at most ${shown(upper)}`]),
  ].join(" and ");
  return rule.kind === "simple" ? limits : `${limits}, conformance ${formatNumber(100 * rule.conformance)} %`;
}

function attemptLine({ serial, attempt, draft, before, after }: ReplayedAttempt, it: Characteristic): string {
  const who = `${printable(serial)}${attempt > 1 ? ` attempt ${attempt}` : ""}${draft ? " (draft limits)" : ""}`;
  const was = before ? findingText(before, it) : "not judged";
  if (after.kind === "not measured") return `${who}: ${was} -> not measured: ${after.sentence}`;
  const { finding } = after;
  const why = finding.why ?? (before?.why ? `was ${before.why}` : null);
  return `${who}: ${was} -> ${findingText(finding, it)}${why === null ? "" : `: ${why}`}`;
}

function findingText(
  { value, uncertainty, verdict }: LeakFinding,
  { unit, lower, upper }: Characteristic,
): string {
  const limits = [lower, upper].flatMap((limit) =>
    limit === undefined ? [] : [toUnit(limit, "leakRate", unit)],
  );
  if (value === null) return `no value ${verdict}`;
  if (uncertainty === null) return `about ${formatNumber(value, { significant: 2 })} ${unit} ${verdict}`;
  return `${measuredText(value, 2 * uncertainty, unit, limits)} ${verdict}`;
}

function seconds(time_s: number): string {
  return `${formatNumber(time_s)} s`;
}

/** A serial is whatever was scanned; what a terminal might obey is not shown. */
function printable(serial: string): string {
  return serial.replace(/[\p{Cc}\p{Cf}\p{Cs}\p{Zl}\p{Zp}]/gu, "\u{FFFD}");
}
