import type { Characteristic } from "../../limits/model.ts";
import { formatNumber } from "../../limits/print-quantity.ts";
import { toUnit } from "../../limits/quantity.ts";
import type { StudyTable } from "../quality/study-report.ts";
import { measuredText } from "../records/attempt-text.ts";
import type { LeakFinding } from "../replay-curves.ts";
import { AFTER, BEFORE, type LeakReplay, type ReplayedAttempt } from "../replay-summary.ts";
import { counted, limitsText } from "./what-if-words.ts";

/** Changed attempts that are shown, unless all attempts are. */
const SHOWN_MOST = 20;

/** What measuring curves again came to of one leak rate: attempts by verdict, and those that change or all. */
export function leakTables(leak: LeakReplay): StudyTable[] {
  const listed = leak.attempts.length > 0 ? leak.attempts : leak.changed.slice(0, SHOWN_MOST);
  const left = leak.attempts.length > 0 ? 0 : leak.changedCount - listed.length;
  return [
    countsTable(leak),
    ...(listed.length === 0
      ? []
      : [
          {
            caption: `${counted(leak.changedCount, "verdict changes", "verdicts change")} on ${titleOf(leak)}${left > 0 ? `; ${left} more, which --list names` : ""}`,
            columns: ["attempt", "was", "now", "because"].map((heading) => ({
              heading,
              kind: "text" as const,
            })),
            rows: listed.map((attempt) => attemptRow(attempt, leak.characteristic)),
          },
        ]),
  ];
}

function titleOf({ characteristic, piece }: LeakReplay): string {
  return piece === null ? characteristic.name : `${characteristic.name} of reference piece ${piece}`;
}

/** Columns of curves that could not be measured again are there only where there are such. */
function countsTable(leak: LeakReplay): StudyTable {
  const { counts, characteristic, piece } = leak;
  const columns = AFTER.filter((after, i) => i < 3 || BEFORE.some((before) => counts[before][after] > 0));
  const rows = BEFORE.filter((before, i) => i < 3 || AFTER.some((after) => counts[before][after] > 0));
  const judge =
    piece === null ? limitsText(characteristic) : `its certificate, ${limitsText(characteristic)}`;
  return {
    caption: `${titleOf(leak)}: attempts by ${judge}`,
    columns: [
      { heading: "", kind: "text" },
      ...columns.map((after, i) => ({ heading: i < 3 ? `now ${after}` : after, kind: "number" as const })),
    ],
    rows: rows.map((before) => [
      before === "not judged" ? before : `was ${before}`,
      ...columns.map((after) => String(counts[before][after])),
    ]),
  };
}

export function leakNotes(leak: LeakReplay): string[] {
  const { characteristic, change, step_s, counts, early, grossLeaks } = leak;
  const { unit } = characteristic;
  const title = titleOf(leak);
  const tooShort = BEFORE.reduce((sum, before) => sum + counts[before]["curve too short"], 0);
  const shown = (value: number) =>
    `${value < 0 ? "-" : "+"}${formatNumber(Math.abs(value), { significant: 3 })}`;
  const isChanged = change && (change.least.value !== 0 || change.greatest.value !== 0);
  return [
    ...(isChanged
      ? [
          `Change of ${title}: median ${shown(change.median)} ${unit}, from ${shown(change.least.value)} (${change.least.serial}) to ${shown(change.greatest.value)} (${change.greatest.serial}), of ${change.attempts} measured.`,
        ]
      : change
        ? [`No value of ${title} changes, of ${change.attempts} measured.`]
        : []),
    ...(step_s
      ? [
          `Leak step, median: ${step_s.before.toFixed(1)} s recorded, ${step_s.after.toFixed(1)} s now${early > 0 ? `, ${early} by an early verdict` : ""}.`,
        ]
      : []),
    ...(tooShort > 0
      ? [
          `${counted(tooShort, "curve ends", "curves end")} before a verdict by these settings, as after an early verdict, and nothing is guessed.`,
        ]
      : []),
    ...(grossLeaks > 0
      ? [
          `${grossLeaks} that could not be filled ${grossLeaks === 1 ? "keeps its verdict" : "keep their verdict"}.`,
        ]
      : []),
  ];
}

function attemptRow(
  { serial, attempt, draft, before, after }: ReplayedAttempt,
  it: Characteristic,
): string[] {
  const who = `${serial}${attempt > 1 ? ` attempt ${attempt}` : ""}${draft ? " (draft limits)" : ""}`;
  const was = before ? findingText(before, it) : "not judged";
  if (after.kind === "not measured") return [who, was, "not measured", after.sentence];
  const why = after.finding.why ?? (before?.why ? `was ${before.why}` : "");
  return [who, was, findingText(after.finding, it), why];
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
