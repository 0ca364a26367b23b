import type { ChartLevel, StudyChart } from "../study-report.ts";
import type { Capability } from "./capability.ts";
import type { Specification } from "./specification.ts";

const [FEWEST_BARS, MOST_BARS] = [6, 40];
const CURVE_POINTS = 120;
const MOST_IN_PLOT = 400;

/** Histogram with the distribution, the values against it, and the values in order. */
export function capabilityCharts(
  values: readonly number[],
  specification: Specification,
  found: Capability,
  unit: string | undefined,
): StudyChart[] {
  const label = unit === undefined ? "value" : `value, ${unit}`;
  const limits = levels(specification);
  return [
    histogram(values, limits, found, label),
    ...(found.chosen ? [probabilityPlot(values, found, label)] : []),
    {
      title: "Values in order",
      x: { label: "number" },
      y: { label },
      series: [
        { name: "values", draw: "line and dots", points: values.map((value, k) => [k + 1, value] as const) },
      ],
      levels: [
        { label: "mean", along: "y", at: found.sample.mean, means: "centre" },
        ...limits.map((level) => ({ ...level, along: "y" as const })),
      ],
    },
  ];
}

function levels({ lower, upper }: Specification): ChartLevel[] {
  return [
    ...(lower === undefined
      ? []
      : [{ label: "lower limit", along: "x", at: lower, means: "specification limit" } as const]),
    ...(upper === undefined
      ? []
      : [{ label: "upper limit", along: "x", at: upper, means: "specification limit" } as const]),
  ];
}

function histogram(
  values: readonly number[],
  limits: readonly ChartLevel[],
  { least, largest, chosen, sample }: Capability,
  label: string,
): StudyChart {
  const bars = Math.min(MOST_BARS, Math.max(FEWEST_BARS, Math.ceil(2 * Math.cbrt(sample.n))));
  const width = (largest - least) / bars;
  const counts = new Array<number>(bars).fill(0);
  for (const value of values) {
    const bar = Math.min(bars - 1, Math.floor((value - least) / width));
    counts[bar] = (counts[bar] ?? 0) + 1;
  }
  const curve = Array.from({ length: CURVE_POINTS + 1 }, (_, k) => {
    const x = least - 2 * width + ((largest - least + 4 * width) * k) / CURVE_POINTS;
    return [x, (chosen?.distribution.density(x) ?? 0) * sample.n * width] as const;
  }).filter(([x, y]) => Number.isFinite(y) && (y > 0 || x >= least));
  return {
    title: "How often each value came",
    x: { label },
    y: { label: "values" },
    series: [
      { name: "values", draw: "bars", points: counts.map((count, k) => [least + (k + 0.5) * width, count]) },
      ...(chosen ? [{ name: chosen.words, draw: "line" as const, points: curve }] : []),
    ],
    levels: limits,
  };
}

/** A straight line where the distribution describes the values. */
function probabilityPlot(
  values: readonly number[],
  { chosen, sample }: Capability,
  label: string,
): StudyChart {
  const sorted = Float64Array.from(values).sort();
  const { n } = sample;
  const step = Math.max(1, n / MOST_IN_PLOT);
  const points: (readonly [number, number])[] = [];
  for (let at = 0; at < n; at += step) {
    const i = Math.floor(at);
    const expected = chosen?.distribution.quantile((i + 0.5) / n) ?? Number.NaN;
    if (Number.isFinite(expected)) points.push([expected, sorted[i] ?? 0]);
  }
  const ends = [points[0], points.at(-1)].flatMap((point) => (point ? [[point[0], point[0]] as const] : []));
  return {
    title: `Values against a ${chosen?.words ?? ""} distribution`,
    x: { label: `expected ${label}` },
    y: { label },
    series: [
      { name: "values", draw: "dots", points },
      { name: "as expected", draw: "line", points: ends },
    ],
  };
}
