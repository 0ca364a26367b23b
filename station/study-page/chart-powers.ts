import type { ChartAxis, StudyChart } from "../quality/study-report.ts";

/** The charting library can't tell steps below 1e-20 from none. */
const SMALL = 1e-9;

/**
 * A chart whose numbers it can be drawn of: where all along an axis are very small, in powers of ten, which its label names.
 * @example withPowers({ ...chart, y: { label: "value" } }) // of 2e-20 and 5e-20: "value / 1e-20", drawn at 2 and 5
 */
export function withPowers(chart: StudyChart): StudyChart {
  const [x, y] = [powerOf(chart, "x"), powerOf(chart, "y")];
  if (x === 1 && y === 1) return chart;
  return {
    ...chart,
    x: labelled(chart.x, x),
    y: labelled(chart.y, y),
    series: chart.series.map((one) => ({
      ...one,
      points: one.points.map(([px, py]) => [px / x, py / y] as const),
    })),
    levels: (chart.levels ?? []).map((one) => ({ ...one, at: one.at / (one.along === "x" ? x : y) })),
    areas: (chart.areas ?? []).map((one) => {
      const power = one.along === "x" ? x : y;
      return { ...one, from: one.from / power, to: one.to / power };
    }),
  };
}

function powerOf({ series, levels = [], ...axes }: StudyChart, along: "x" | "y"): number {
  if (axes[along].names) return 1;
  let largest = 0;
  for (const { points } of series)
    for (const [x, y] of points) largest = Math.max(largest, Math.abs(along === "x" ? x : y));
  for (const { along: own, at } of levels) if (own === along) largest = Math.max(largest, Math.abs(at));
  return largest > 0 && largest < SMALL ? 10 ** Math.floor(Math.log10(largest)) : 1;
}

function labelled(axis: ChartAxis, power: number): ChartAxis {
  return power === 1 ? axis : { ...axis, label: `${axis.label} / ${power.toExponential(0)}` };
}
