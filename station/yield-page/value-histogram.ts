import { formatNumber } from "../../limits/print-quantity.ts";
import type { ChartArea, ChartLevel, StudyChart } from "../quality/study-report.ts";
import { shownUnit } from "./shown-unit.ts";
import type { MeasuredSeries } from "./yield-detail.ts";

export interface HistogramBin {
  readonly from: number;
  /** Infinity for what lies beyond the axis. */
  readonly to: number;
  readonly passed: number;
  readonly failed: number;
}

/** About so many bars between the ends of the axis. */
const BINS = 40;
/** Of what lies beyond the limit so much is drawn to scale; a leak twenty times the limit would leave all others one bar. */
const BEYOND = 0.5;
/** Values that differ by less, in parts of the largest, differ by nothing but arithmetic. */
const LEAST_SPAN = 1e-6;

/**
 * How often values come, with an edge at the limit, and all that lie far beyond it as one.
 * @returns their counts add up to the values; none for no values
 * @example histogramOf({ ...series, values: [4, 12, 80], upper: 25 }).at(-1) // { from: 38, to: Infinity, passed: 0, failed: 1 }
 */
export function histogramOf(series: MeasuredSeries): readonly HistogramBin[] {
  const { values, passed, upper, lower } = series;
  if (values.length === 0) return [];
  const { low, high } = drawnRange(series);
  const largest = Math.max(Math.abs(low), Math.abs(high));
  const step = niceStep(Math.max(high - low, LEAST_SPAN * largest, Number.MIN_VALUE * 1e20) / BINS);
  // Edges in whole steps from the limit, so that no bar has values of both its sides.
  const edge = upper ?? lower ?? 0;
  const first = Math.floor((low - edge) / step);
  const count = Math.max(1, Math.ceil((high - edge) / step) - first);
  const edgeAt = (k: number) => tidy(edge + (first + k) * step);
  const bins = Array.from({ length: count }, (_, k) => ({
    ...{ from: edgeAt(k), to: edgeAt(k + 1) },
    ...{ passed: 0, failed: 0 },
  }));
  const under = { from: Number.NEGATIVE_INFINITY, to: edgeAt(0), passed: 0, failed: 0 };
  const over = { from: edgeAt(count), to: Number.POSITIVE_INFINITY, passed: 0, failed: 0 };
  for (const [i, value] of values.entries()) {
    const steps = (value - edge) / step;
    // A value equal to an upper limit is within it, and belongs to the bar below.
    const k = (upper === null ? Math.floor(steps) : Math.ceil(steps) - 1) - first;
    const bin = k < 0 ? under : (bins[k] ?? over);
    if (passed[i]) bin.passed++;
    else bin.failed++;
  }
  const isUsed = ({ passed, failed }: HistogramBin) => passed + failed > 0;
  return [...(isUsed(under) ? [under] : []), ...bins, ...(isUsed(over) ? [over] : [])];
}

/** Where most values lie, the limits, and something beyond them. */
function drawnRange({ values, upper, lower, measurand }: MeasuredSeries): {
  readonly low: number;
  readonly high: number;
} {
  const sorted = Float64Array.from(values).sort();
  const at = (part: number) => sorted[Math.round(part * (sorted.length - 1))] ?? 0;
  const zero = measurand === "leak_rate" ? [0] : [];
  const low = Math.min(at(0.01), ...zero, ...(lower === null ? [] : [lower]));
  const high = Math.max(at(0.99), ...(upper === null ? [] : [upper]));
  return {
    low: lower === null ? low : Math.max(low, Math.min(at(0.1), lower - BEYOND * (high - lower))),
    high: upper === null ? high : Math.min(high, Math.max(at(0.9), upper + BEYOND * (upper - low))),
  };
}

/** The histogram with the limit and the guard band below it. */
export function histogramChart(series: MeasuredSeries, bins: readonly HistogramBin[]): StudyChart {
  const { model, characteristic, upper, lower, acceptedFrom, acceptedTo, conformance } = series;
  const unit = shownUnit(series.unit);
  const inner = bins.filter(({ from, to }) => Number.isFinite(from) && Number.isFinite(to));
  const step = inner[0] ? inner[0].to - inner[0].from : 1;
  const over = bins.find(({ to }) => !Number.isFinite(to));
  const under = bins.find(({ from }) => !Number.isFinite(from));
  const outer = [
    ...(under ? [[under.to - step, under.passed + under.failed] as const] : []),
    ...(over ? [[over.from + step, over.passed + over.failed] as const] : []),
  ];
  const at = ({ from, to }: HistogramBin) => (from + to) / 2;
  const level = (value: number | null, label: string, means: ChartLevel["means"]): ChartLevel[] =>
    value === null
      ? []
      : [{ label: `${label} ${formatNumber(value, { significant: 4 })}`, along: "x", at: value, means }];
  const guard = conformance === null ? "" : "guard band";
  const area = (from: number | null, to: number | null): ChartArea[] =>
    from === null || to === null || from === to ? [] : [{ label: guard, along: "x", from, to }];
  return {
    title: `${characteristic} of ${model}, units' first inspections`,
    x: { label: `${characteristic}, ${unit}` },
    y: { label: "units" },
    stacked: true,
    series: [
      { name: "passed", draw: "bars", points: inner.map((bin) => [at(bin), bin.passed]) },
      { name: "failed", draw: "bars", points: inner.map((bin) => [at(bin), bin.failed]) },
      ...(outer.length === 0 ? [] : [{ name: outerName(under, over), draw: "bars" as const, points: outer }]),
    ],
    levels: [
      ...level(lower, "lower limit", "specification limit"),
      ...level(upper, "limit", "specification limit"),
    ],
    areas: [...area(lower, acceptedFrom), ...area(acceptedTo, upper)],
  };
}

function outerName(under: HistogramBin | undefined, over: HistogramBin | undefined): string {
  const parts = [
    ...(under ? [`below ${formatNumber(under.to, { significant: 4 })}`] : []),
    ...(over ? [`above ${formatNumber(over.from, { significant: 4 })}`] : []),
  ];
  return `${parts.join(" and ")}, not to scale`;
}

/** @example binText({ from: 24, to: 25, passed: 3, failed: 0 }, "mL/min") // "24 to 25" */
export function binText({ from, to }: HistogramBin): string {
  const text = (value: number) => formatNumber(value, { significant: 6 });
  if (!Number.isFinite(from)) return `below ${text(to)}`;
  return Number.isFinite(to) ? `${text(from)} to ${text(to)}` : `above ${text(from)}`;
}

function niceStep(least: number): number {
  const power = 10 ** Math.floor(Math.log10(least));
  return ([1, 2, 5].find((it) => it * power >= least * (1 - 1e-9)) ?? 10) * power;
}

function tidy(value: number): number {
  return Number(value.toPrecision(12));
}
