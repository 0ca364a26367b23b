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

const BINS = 32;
/** Of what lies beyond the limit so much is drawn to scale; a leak twenty times the limit would leave all others one bar. */
const BEYOND = 0.5;

/**
 * How often values come, with an edge at the limit, and all that lie far beyond it as one.
 * @returns at least one bin; their counts add up to the values
 * @example histogramOf({ ...series, values: [4, 12, 80], upper: 25 }).at(-1) // { from: 38, to: Infinity, passed: 0, failed: 1 }
 */
export function histogramOf(series: MeasuredSeries): readonly HistogramBin[] {
  const { values, passed, upper, lower } = series;
  let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const value of values) {
    least = Math.min(least, value);
    most = Math.max(most, value);
  }
  if (!(least <= most)) return [];
  const sorted = Float64Array.from(values).sort();
  const quantile = (part: number) => sorted[Math.round(part * (sorted.length - 1))] ?? most;
  const far = most - least;
  // The bulk of the values decides on the scale, not the few that are far off.
  const bulk = { low: quantile(0.01), high: quantile(0.99) };
  let low = Math.max(
    least,
    Math.min(bulk.low, lower ?? bulk.low) - BEYOND * Math.max(bulk.high - bulk.low, 0),
  );
  let high = Math.min(most, Math.max(bulk.high, upper ?? bulk.high));
  if (upper !== null)
    high = Math.min(most, Math.max(upper + BEYOND * Math.max(upper - low, 0), quantile(0.9)));
  if (measuresLeak(series)) low = Math.min(low, 0);
  const span = high - low || far || Math.abs(high) || 1;
  const step = niceStep(span / BINS);
  const edge = upper ?? lower ?? 0;
  // Edges in whole steps from the limit, so that no bar has values of both its sides.
  const first = Math.floor((low - edge) / step + 1e-9);
  const last = Math.max(first + 1, Math.ceil((high - edge) / step - 1e-9));
  const bins = Array.from({ length: last - first }, (_, k) => ({
    from: tidy(edge + (first + k) * step),
    to: tidy(edge + (first + k + 1) * step),
    passed: 0,
    failed: 0,
  }));
  const under = { from: Number.NEGATIVE_INFINITY, to: bins[0]?.from ?? low, passed: 0, failed: 0 };
  const over = { from: bins.at(-1)?.to ?? high, to: Number.POSITIVE_INFINITY, passed: 0, failed: 0 };
  for (const [i, value] of values.entries()) {
    // A value equal to the limit is within it, and belongs to the bar below an upper one.
    const place = upper === null ? Math.floor((value - edge) / step) : Math.ceil((value - edge) / step) - 1;
    const k = place - first;
    const bin = k < 0 ? (value === bins[0]?.from ? bins[0] : under) : (bins[k] ?? over);
    if (passed[i]) bin.passed++;
    else bin.failed++;
  }
  const isUsed = ({ passed, failed }: HistogramBin) => passed + failed > 0;
  return [...(isUsed(under) ? [under] : []), ...bins, ...(isUsed(over) ? [over] : [])];
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

function measuresLeak({ measurand }: MeasuredSeries): boolean {
  return measurand === "leak_rate";
}

function niceStep(least: number): number {
  const power = 10 ** Math.floor(Math.log10(least));
  return ([1, 2, 5].find((it) => it * power >= least * (1 - 1e-9)) ?? 10) * power;
}

function tidy(value: number): number {
  return Number(value.toPrecision(12));
}
