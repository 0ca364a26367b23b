import type { DayCount } from "../yield/day-count.ts";

/** @returns how many were good today, as much of it as there is room for */
export function countsText(counts: DayCount, width: number): string {
  const { tested, pass, fail, firstPassed, inspected } = counts;
  const kept = counts.heldInDoubt + counts.heldByHand;
  const held = kept > 0 ? `, ${kept} held` : "";
  const judged = `${pass} pass, ${fail} fail, ${counts.void} void${held}`;
  // Units may be tested more than once, and each time counts here.
  const tests = tested === 1 ? "1 test" : `${tested} tests`;
  const candidates = [
    `Today: ${tests}: ${judged}   First pass yield ${share(counts, 1)} (${firstPassed} of ${inspected}${interval(counts, "; 95 %: ")})`,
    `Today: ${tests}: ${judged}   First pass yield ${share(counts, 1)}${interval(counts, " (", ")")}`,
    `Today: ${tests}: ${judged}   First pass yield ${share(counts, 0)}${interval(counts, " (", ")")}`,
    `Today: ${tests}: ${judged}   FPY ${share(counts, 0)}${interval(counts, " (", ")")}`,
    `${tests}: ${judged}   FPY ${share(counts, 0)}${interval(counts, " (", ")")}`,
    `${tests}: ${judged}   FPY ${share(counts, 0)}`,
  ];
  return candidates.find((text) => text.length <= width) ?? candidates.at(-1) ?? "";
}

/** One of the last units, as it is shown: "TUB531811" and "PASS". */
export interface LastUnitText {
  readonly serial: string;
  readonly word: "PASS" | "FAIL" | "VOID" | "HELD" | "SCRAP";
}

const WORDS = {
  pass: "PASS",
  fail: "FAIL",
  void: "VOID",
  doubt: "HELD",
  held: "HELD",
  scrapped: "SCRAP",
} as const;
/** Ends of serials differ; beginnings seldom do. */
const SHORT_SERIAL = 6;
export const LAST_UNITS_LABEL = "Last: ";
export const LAST_UNITS_GAP = "  ";
const MOST_UNITS = 5;

/** @returns the last units, newest first, their serials whole where all fit, else by their ends */
export function lastUnitTexts({ lastUnits }: DayCount, width: number): readonly LastUnitText[] {
  const shown = lastUnits.slice(0, MOST_UNITS);
  const texts = (serialOf: (serial: string) => string) =>
    shown.map(({ serial, verdict }) => ({ serial: serialOf(serial), word: WORDS[verdict] }));
  const whole = texts((serial) => serial);
  return columnsOf(whole) <= width
    ? whole
    : texts((serial) => (serial.length > SHORT_SERIAL ? `…${serial.slice(1 - SHORT_SERIAL)}` : serial));
}

function columnsOf(units: readonly LastUnitText[]): number {
  const each = units.map(({ serial, word }) => serial.length + 1 + word.length);
  return (
    LAST_UNITS_LABEL.length +
    each.reduce((sum, columns) => sum + columns, 0) +
    LAST_UNITS_GAP.length * Math.max(0, units.length - 1)
  );
}

function share({ firstPassYield }: DayCount, decimals: number): string {
  return firstPassYield === null ? "-" : `${(100 * firstPassYield).toFixed(decimals)} %`;
}

/** Outwards, so that the interval never looks narrower than it is. */
function interval({ interval: it }: DayCount, before: string, after = ""): string {
  if (it === null) return "";
  return `${before}${Math.floor(100 * it.low)} to ${Math.ceil(100 * it.high)} %${after}`;
}
