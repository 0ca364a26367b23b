import { escaped } from "../../limits/escaped-text.ts";
import { wrapWords } from "../screen/wrap-words.ts";
import { textTable } from "../study-page/text-table.ts";
import type { ParetoBar, Share, YieldBreakdown, YieldCounts, YieldReport } from "../yield/yield-report.ts";
import { share } from "../yield/yield-tally.ts";
import { countText, durationText, percentText, spanText } from "./figures-text.ts";
import { localStamp } from "./local-stamp.ts";

const COLUMNS = 80;
/** Lists that may be long are shown so far; the files have all of them. */
const MOST_HELD = 20;
const MOST_BARS = 10;
const MOST_BROKEN = 10;

/**
 * A yield report for a terminal of 80 columns. What must not be shipped comes first; what a reader must know of the figures last,
 * where the eye is when the prompt is back.
 */
export function yieldText(report: YieldReport): string {
  const { failingCharacteristics, confirmedCauses, suspectedCauses, voidsByCause } = report;
  const { inspected } = report.total;
  return [
    headLines(report),
    heldLines(report),
    inspected === 0 ? [] : resultLines(report),
    ...report.breakdowns.map(groupLines),
    barLines("Failed at first inspection by", failingCharacteristics, ["units", "of failed units"]),
    barLines("Suspected first of failed units", suspectedCauses, ["units", "of failed units"]),
    barLines("Found by repair", confirmedCauses, ["units", "of reworked units"]),
    barLines("Void tests by first reason", voidsByCause, ["tests", "of void tests"]),
    checkLines(report),
    revisionLines(report),
    downLines(report),
    noteLines(report),
    sourceLines(report),
  ]
    .filter((lines) => lines.length > 0)
    .map((lines) => `${lines.join("\n")}\n`)
    .join("\n");
}

function headLines({ asked, source }: YieldReport): string[] {
  const { from, to, timeZone, model, station } = asked;
  const days = from !== null && from === to ? from : `${from ?? "the first record"} to ${to ?? "now"}`;
  const which = [...source.stations, ...source.models].join(", ");
  return [
    ...wrapped(`Yield of ${days} (${timeZone})`),
    ...(which === "" ? [] : wrapped(`${which}${source.simulated ? "; simulated tests among them" : ""}`)),
    ...(model === null ? [] : wrapped(`Only model ${model}.`)),
    ...(station === null ? [] : wrapped(`Only station ${station}.`)),
  ];
}

function heldLines({ heldUnits, asked }: YieldReport): string[] {
  if (heldUnits.length === 0) return [];
  const rows = heldUnits
    .slice(0, MOST_HELD)
    .map(({ serial, model, since, by, reason }) => [
      serial,
      model,
      minuteOf(since, asked.timeZone),
      by ?? "station",
      reason,
    ]);
  return [
    `HELD: ${countText(heldUnits.length, "unit")} must not ship.`,
    ...table(["unit", "model", "since", "by", "because"], [], rows),
    ...more(heldUnits.length, MOST_HELD, "--format csv --what held lists all"),
  ];
}

function resultLines({ total, cycleTime }: YieldReport): string[] {
  const { firstPass, good, failed, held, scrapped, reworked, reworkPassed, retested, defects, steps } = total;
  const rows: readonly (readonly [number, string, string, string])[] = [
    [total.inspected, "inspected", "", ""],
    [
      firstPass.count,
      "good at first pass: first pass yield",
      percentText(firstPass.value),
      spanText(firstPass.lower, firstPass.upper),
    ],
    [good.count, "good now: quality ratio", percentText(good.value), spanText(good.lower, good.upper)],
    [failed.count, "failed", percentText(failed.value), spanText(failed.lower, failed.upper)],
    [
      held.count,
      held.count > 0 ? "ON HOLD" : "on hold",
      percentText(held.value),
      spanText(held.lower, held.upper),
    ],
    [
      scrapped.count,
      "scrapped: scrap ratio",
      percentText(scrapped.value),
      spanText(scrapped.lower, scrapped.upper),
    ],
  ];
  const stepTexts = steps.map(
    ({ step, passed }) =>
      `${step} ${percentText(passed.value)} (${passed.count} of ${passed.of}${withSpan(passed)})`,
  );
  const lines = [
    `Rolled throughput yield ${percentText(total.rolledThroughputYield)}: ${stepTexts.join(", ")}.`,
    `${countText(defects.found, "defect")} in ${countText(defects.opportunities, "opportunity").replace(/opportunitys$/, "opportunities")}${
      defects.dpmo === null ? "" : `: ${Math.round(defects.dpmo).toLocaleString("en-GB")} per million`
    }.`,
    `${countText(total.tests, "test")}, ${total.voidTests} of them void${inBrackets(share(total.voidTests, total.tests))}.`,
    ...(retested.of === 0
      ? []
      : [
          `Tested again after a fail: ${countText(retested.of, "unit")}, of which ${retested.count} then passed${inBrackets(retested)}.`,
        ]),
    ...(reworked.count === 0
      ? []
      : [
          `Reworked: ${countText(reworked.count, "unit")} (rework ratio ${percentText(reworked.value)}${withSpan(reworked)}), of which ${reworkPassed.count} passed since${inBrackets(reworkPassed)}.`,
        ]),
    ...(cycleTime === null
      ? []
      : [
          `Cycle time: median ${cycleTime.median_s.toFixed(1)} s, 95 % within ${cycleTime.p95_s.toFixed(1)} s (${countText(cycleTime.tests, "valid test")}).`,
        ]),
  ];
  return [
    ...table(
      ["units", "", "of inspected", "95 %"],
      [0, 2, 3],
      rows.map((row) => row.map(String)),
    ),
    "",
    ...lines.flatMap((line) => wrapped(`  ${line}`)),
  ];
}

/** @example inBrackets(share(2, 60)) // " (3.3 %, 0.4 to 11.5 %)" */
function inBrackets(part: Share): string {
  return part.value === null ? "" : ` (${percentText(part.value)}${withSpan(part)})`;
}

function withSpan({ lower, upper }: Share): string {
  return lower === null ? "" : `, ${spanText(lower, upper)}`;
}

function groupLines({ by, groups }: YieldBreakdown): string[] {
  if (groups.length === 0) return [];
  const cells = ({ inspected, firstPass, failed, held, scrapped }: YieldCounts) => [
    String(inspected),
    String(firstPass.count),
    percentText(firstPass.value),
    spanText(firstPass.lower, firstPass.upper),
    ...[failed, held, scrapped].map(({ count }) => String(count)),
  ];
  return [
    `By ${by}: units inspected, good at first pass, and how they stand now`,
    ...table(
      [by, "units", "first", "yield", "95 %", "failed", "held", "scrap"],
      [1, 2, 3, 4, 5, 6, 7],
      groups.map(({ name, counts }) => [name, ...cells(counts)]),
    ),
  ];
}

/** A unit may have failed by several: parts of the units do not add up, those of the findings do. */
function barLines(
  title: string,
  bars: readonly ParetoBar[],
  [counted, whole]: readonly [counted: string, whole: string],
): string[] {
  if (bars.length === 0) return [];
  const rows = bars
    .slice(0, MOST_BARS)
    .map(({ name, count, rate, share, cumulative }) => [
      name,
      String(count),
      percentText(rate),
      percentText(share),
      percentText(cumulative),
    ]);
  return [
    title,
    ...table(["", counted, whole, "of findings", "with those above"], [1, 2, 3, 4], rows),
    ...more(bars.length, MOST_BARS, "--format csv --what pareto lists all"),
  ];
}

function checkLines({ referenceChecks, asked }: YieldReport): string[] {
  if (referenceChecks.length === 0) return [];
  const rows = referenceChecks.map(({ serial, model, passed, failed, voids, last }) => [
    serial,
    model,
    String(passed),
    String(failed),
    String(voids),
    last === null
      ? "-"
      : `${last.verdict.toUpperCase()} ${minuteOf(last.at, asked.timeZone)}: ${last.measured === null ? "nothing measured" : rounded(last.measured)}, certified ${rounded(last.certified)} +- ${rounded(last.tolerance)} ${last.unit}`,
  ]);
  return [
    "Reference checks",
    ...table(["piece", "model", "passed", "failed", "void", "last"], [2, 3, 4], rows),
  ];
}

function revisionLines({ limitRevisions, asked }: YieldReport): string[] {
  if (limitRevisions.length === 0) return [];
  const rows = limitRevisions.map(({ model, revision, sha256, first_at, last_at, tests }) => [
    model,
    String(revision),
    String(tests),
    minuteOf(first_at, asked.timeZone),
    minuteOf(last_at, asked.timeZone),
    sha256.slice(0, 8),
  ]);
  return [
    "Limits in force",
    ...table(["model", "revision", "tests", "first", "last", "SHA-256"], [1, 2], rows),
  ];
}

function downLines({ downTime, down_s }: YieldReport): string[] {
  if (downTime.length === 0) return [];
  const rows = downTime.map(({ code, count, down_s, sentence }) => [
    code,
    String(count),
    durationText(down_s),
    sentence,
  ]);
  const all = down_s === null ? "" : `: ${durationText(down_s)} in all, faults at the same time counted once`;
  return [`Down time by fault${all}`, ...table(["fault", "count", "down", "last one's words"], [1, 2], rows)];
}

function noteLines({ notes }: YieldReport): string[] {
  return notes.flatMap((note) => wrapped(`Note: ${note}`));
}

function sourceLines({ source, total }: YieldReport): string[] {
  const { folder, travellersCompared, drafts, references, broken } = source;
  const read =
    travellersCompared === null
      ? "the index was taken at its word"
      : `${countText(travellersCompared, "traveller")} read and found as recorded`;
  const leftOut = [
    ...(drafts > 0 ? [countText(drafts, "draft")] : []),
    ...(references > 0 ? [countText(references, "test")].map((text) => `${text} of reference pieces`) : []),
  ];
  const lines = [
    `Source: ${folder}, ${read}${leftOut.length > 0 ? `; left out: ${leftOut.join(", ")}` : ""}.`,
    ...(total.inspected === 0 ? [] : ["Intervals are Clopper-Pearson, 95 %."]),
  ];
  if (broken.length === 0) return lines.flatMap((line) => wrapped(line));
  return [
    ...lines.flatMap((line) => wrapped(line)),
    ...wrapped(
      `NOT AS RECORDED, and part of no figure: ${countText(broken.length, "record")}. Tell the quality engineer.`,
    ),
    ...broken.slice(0, MOST_BROKEN).flatMap(({ path, problem }) => wrapped(`  ${path}: ${problem}`)),
    ...more(broken.length, MOST_BROKEN, "--format json names all"),
  ];
}

function more(count: number, shown: number, where: string): string[] {
  return count > shown ? [`  and ${count - shown} more: ${where}.`] : [];
}

/** @param numbers columns that are numbers, from 0 */
function table(
  headings: readonly string[],
  numbers: readonly number[],
  rows: readonly (readonly string[])[],
): readonly string[] {
  const columns = headings.map((heading, at) => ({
    heading,
    kind: numbers.includes(at) ? ("number" as const) : ("text" as const),
  }));
  return textTable({ columns, rows }, COLUMNS);
}

function minuteOf(instant: string, timeZone: string): string {
  return instant === "" ? "-" : localStamp(instant, timeZone).slice(0, 16);
}

function rounded(value: number): string {
  return String(Number(value.toPrecision(4)));
}

function wrapped(text: string): readonly string[] {
  const lead = /^ */.exec(text)?.[0] ?? "";
  return wrapWords(escaped(text.trim()), COLUMNS - lead.length, "  ").map((line) => lead + line);
}
