import { formatMeasured, formatNumber } from "../../limits/print-quantity.ts";
import { changeText } from "../quality/early-warning/warning-words.ts";
import { localTime } from "../records/local-time.ts";
import { wrapWords } from "../screen/wrap-words.ts";
import type { DayCount } from "./day-count.ts";
import type { FaultCount, PieceChecks, Presence, ShiftSummary } from "./shift-summary.ts";

const INDENT = "  ";

/**
 * A shift's summary for a screen or for text: no line is longer than the width, and what does not fit goes on in the next
 * line, indented.
 * @param width characters, at least 40
 */
export function shiftSummaryLines(summary: ShiftSummary, width: number): string[] {
  const { from_ms, to_ms, count, faults, references, people, warnings = [] } = summary;
  const [from, to] = [minutesOf(new Date(from_ms).toISOString()), minutesOf(new Date(to_ms).toISOString())];
  return [
    ...wrapWords(`Shift ${from} to ${onSameDay(from, to)}`, width, INDENT),
    ...wrapWords(testsText(count), width, INDENT),
    ...wrapWords(yieldText(count), width, INDENT),
    ...(count.heldInDoubt > 0 ? wrapWords(doubtText(count.heldInDoubt), width, INDENT) : []),
    ...(count.heldByHand > 0 ? wrapWords(heldText(count.heldByHand), width, INDENT) : []),
    ...listed("Failed units by what failed", frequencies(count.causes), width),
    ...listed("Failed units by first suspect", suspects(count), width),
    ...(warnings.length > 0
      ? listed(
          "Early warnings",
          warnings.map((it) => `${it.sentence} ${changeText(it)}`),
          width,
        )
      : []),
    ...listed(
      "Faults",
      faults.map((fault) => faultText(fault, from)),
      width,
    ),
    ...listed(
      "Reference checks",
      references.map((piece) => pieceText(piece, from)),
      width,
    ),
    ...listed(
      "Signed in",
      people.map((person) => presenceText(person, from)),
      width,
    ),
  ];
}

/** @example "Tested 12: 9 pass, 2 fail, 1 void." */
function testsText({ tested, pass, fail, void: voids }: DayCount): string {
  const doubted = tested - pass - fail - voids;
  return `Tested ${tested}: ${pass} pass, ${fail} fail, ${voids} void${doubted > 0 ? `, ${doubted} not to be trusted` : ""}.`;
}

/** @example "First pass yield 83.3 % (10 of 12 units); 95 % sure: 51.6 to 97.9 %." */
function yieldText({ firstPassYield, interval, firstPassed, inspected }: DayCount): string {
  if (firstPassYield === null || interval === null) return "First pass yield: no unit was inspected.";
  const percent = (part: number) => (100 * part).toFixed(1);
  return `First pass yield ${percent(firstPassYield)} % (${firstPassed} of ${inspected} units); 95 % sure: ${percent(interval.low)} to ${percent(interval.high)} %.`;
}

function doubtText(units: number): string {
  return `${units} ${units === 1 ? "unit is" : "units are"} in doubt, held and not counted: test again or release.`;
}

function heldText(units: number): string {
  return `${units} ${units === 1 ? "unit is" : "units are"} on hold by somebody's decision: send none on until it is released.`;
}

function frequencies(counts: ReadonlyMap<string, number>): string[] {
  return [...counts].map(([name, count]) => `${name} ${count}`);
}

function suspects({ suspected, notSuspected }: DayCount): string[] {
  // Without any suspect there is nothing to list, whoever failed.
  if (suspected.size === 0) return [];
  return [...frequencies(suspected), ...(notSuspected > 0 ? [`no suspect ${notSuspected}`] : [])];
}

function faultText({ count, sentence, last }: FaultCount, from: string): string {
  return `${count === 1 ? "once" : `${count} times, last`} at ${onSameDay(from, minutesOf(last))}: ${sentence}`;
}

/** @example "REF-LEAK-POD-4: 2 passed, 1 failed; last 13:02 pass, 15.2 mL/min (certified 15 ± 2)" */
function pieceText({ serial, passed, failed, newest }: PieceChecks, from: string): string {
  if (!newest) return `${serial}: not checked`;
  const at = onSameDay(from, minutesOf(newest.ended_at ?? newest.started_at));
  return `${serial}: ${passed} passed, ${failed} failed; last ${at} ${newest.verdict}${readingText(newest.reference)}`;
}

function readingText(reference: NonNullable<PieceChecks["newest"]>["reference"]): string {
  if (reference?.measured == null) return "";
  const { measured, certified, tolerance, unit } = reference;
  const comparedWith = [certified - tolerance, certified + tolerance];
  const { value } = formatMeasured({ value: measured, comparedWith });
  return `, ${value} ${unit} (certified ${formatNumber(certified)} ± ${formatNumber(tolerance)})`;
}

/** @example "A. Marsh 05:58 to 09:30" */
function presenceText({ name, from, to }: Presence, day: string): string {
  const since = from === null ? "" : ` ${onSameDay(day, minutesOf(from))}`;
  return to === null ? `${name} since${since}` : `${name}${since} to ${onSameDay(day, minutesOf(to))}`;
}

/** A heading with its entries on the same line where they fit, else one below the other. */
function listed(heading: string, entries: readonly string[], width: number): string[] {
  if (entries.length === 0) return [`${heading}: none.`];
  const line = `${heading}: ${entries.join(", ")}.`;
  if (line.length <= width) return [line];
  return [
    `${heading}:`,
    ...entries.flatMap((entry) => wrapWords(entry, width - INDENT.length, INDENT).map((it) => INDENT + it)),
  ];
}

function minutesOf(instant: string): string {
  return localTime(instant).slice(0, "2026-01-05 06:00".length);
}

/** The time alone where the day is the same. @example onSameDay("2026-01-05 06:00", "2026-01-05 14:00") // "14:00" */
function onSameDay(day: string, minutes: string): string {
  const [date = "", time = ""] = minutes.split(" ");
  return day.startsWith(date) ? time : minutes;
}
