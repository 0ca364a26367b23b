import type { StudyChart } from "../quality/study-report.ts";
import type { ParetoBar } from "../yield/yield-report.ts";
import type { DocumentBlock, DocumentTable } from "./page-document.ts";
import { percentNumber } from "./share-text.ts";

const MOST_BARS = 12;

export interface ParetoAsked {
  /** "What first inspections failed by" */
  readonly title: string;
  /** What each bar is: "failed by" */
  readonly name: string;
  /** What is counted: "failed units" */
  readonly of: string;
}

/**
 * The most frequent first, with how much of everything found they are together. Parts of findings and not of units: a unit may
 * have several, and a line that ends above all would be no help.
 */
export function paretoBlocks(bars: readonly ParetoBar[], asked: ParetoAsked): DocumentBlock[] {
  if (bars.length === 0) return [];
  const together = togetherOf(bars);
  return [
    ...(bars.length > 1 ? [{ kind: "chart" as const, chart: paretoChart(bars, together, asked) }] : []),
    { kind: "table", table: paretoTable(bars, together, asked) },
  ];
}

/** @returns with all more frequent ones, parts of everything found */
function togetherOf(bars: readonly ParetoBar[]): readonly number[] {
  const all = bars.reduce((sum, { count }) => sum + count, 0);
  let sum = 0;
  return bars.map(({ count }) => {
    sum += count;
    return sum / all;
  });
}

function paretoChart(
  bars: readonly ParetoBar[],
  together: readonly number[],
  { title, name }: ParetoAsked,
): StudyChart {
  const drawn = bars.slice(0, MOST_BARS);
  const before = (k: number) => (k === 0 ? 0 : (together[k - 1] ?? 0));
  return {
    title: bars.length > drawn.length ? `${title}: the ${MOST_BARS} most frequent of ${bars.length}` : title,
    x: { label: "part of all findings, %" },
    y: { label: name, names: drawn.map((bar) => `${bar.count} ${bar.name}`) },
    series: [
      {
        name: "each",
        draw: "bars",
        points: drawn.map((_, k) => [100 * ((together[k] ?? 0) - before(k)), k]),
      },
      {
        name: "together with those above",
        draw: "line and dots",
        points: drawn.map((_, k) => [100 * (together[k] ?? 0), k]),
      },
    ],
  };
}

function paretoTable(
  bars: readonly ParetoBar[],
  together: readonly number[],
  { title, name, of }: ParetoAsked,
): DocumentTable {
  return {
    caption: title,
    columns: [
      { heading: name, kind: "text" },
      { heading: "count", kind: "number" },
      { heading: `of ${of}, %`, kind: "number" },
      { heading: "of findings, with those above, %", kind: "number" },
    ],
    rows: bars.map((bar, k) => [
      bar.name,
      String(bar.count),
      percentNumber(bar.rate),
      percentNumber(together[k] ?? 0),
    ]),
  };
}
