import { CustomChart, LineChart } from "echarts/charts";
import { GridComponent, LegendPlainComponent } from "echarts/components";
import { init, use } from "echarts/core";
import { SVGRenderer } from "echarts/renderers";
import { escaped } from "../../limits/escaped-text.ts";
import type { ChartAxis, StudyChart } from "../quality/study-report.ts";
import { areasOptions } from "./chart-areas.ts";
import { type AxisScale, shortened } from "./chart-frame.ts";
import { type Layout, layoutOf, MOST_OF_ROW_NAME, WIDTH_px } from "./chart-layout.ts";
import { legendOf } from "./chart-legend.ts";
import { levelsOption } from "./chart-levels.ts";
import { FAINT, FONT, INK } from "./chart-looks.ts";
import { withPowers } from "./chart-powers.ts";
import { seriesOptions } from "./chart-series.ts";
import { htmlText } from "./html-text.ts";
import { type ThinnedSeries, thinned } from "./thinned-points.ts";

export interface DrawnChart {
  readonly svg: string;
  /** Of how many values there is no ink of their own. */
  readonly leftOut: number;
}

/** Of the charting library what charts here are made of: what else it has would be gone through for each of them. */
const PARTS = [CustomChart, LineChart, GridComponent, LegendPlainComponent, SVGRenderer];

/**
 * Draws a chart without a browser. The same chart gives the same text.
 * @param id unique on its page, letters and digits
 */
export function chartSvg(given: StudyChart, id: string): DrawnChart {
  const chart = withPowers(withSafeTexts(given));
  const series = chart.series.map(thinned);
  const layout = layoutOf(chart);
  use(PARTS);
  const drawing = init(null, null, {
    renderer: "svg",
    ssr: true,
    width: WIDTH_px,
    height: layout.height_px,
  });
  try {
    drawing.setOption(optionOf(chart, series, layout));
    const leftOut = series.reduce((sum, one) => sum + one.leftOut, 0);
    return { svg: madeQuiet(drawing.renderToSVGString(), chart, id), leftOut };
  } finally {
    drawing.dispose();
  }
}

/** The library makes texts harmless as markup, and leaves in them what turns the direction of writing. */
function withSafeTexts({ title, x, y, series, levels = [], areas = [], ...rest }: StudyChart): StudyChart {
  const axis = ({ label, names }: ChartAxis) => ({
    label: escaped(label),
    ...(names ? { names: names.map(escaped) } : {}),
  });
  return {
    ...rest,
    title,
    x: axis(x),
    y: axis(y),
    series: series.map((one) => ({ ...one, name: escaped(one.name) })),
    levels: levels.map((one) => ({ ...one, label: escaped(one.label) })),
    areas: areas.map((one) => ({ ...one, label: escaped(one.label) })),
  };
}

function optionOf(chart: StudyChart, series: readonly ThinnedSeries[], layout: Layout) {
  const { left, right, top, bottom, hasLegend } = layout;
  return {
    animation: false,
    textStyle: { fontFamily: FONT, fontSize: 11, color: INK },
    ...(hasLegend ? { legend: legendOf(chart) } : {}),
    grid: { left, right, top, bottom, outerBoundsMode: "none" as const },
    xAxis: axisOption(chart.x.label, layout.x, {
      nameLocation: "middle",
      nameGap: bottom - 16,
      splitLine: { show: false },
      axisLine: { show: true, onZero: false, lineStyle: { color: INK } },
      every: layout.names.every,
      label: {
        rotate: layout.names.turned_degrees,
        texts: layout.names.texts.length > 0 ? layout.names.texts : layout.x.ticks.map(({ text }) => text),
      },
    }),
    yAxis: axisOption(chart.y.label, layout.y, {
      nameLocation: "middle",
      nameGap: left - 14,
      inverse: layout.isDownward,
      splitLine: { show: !layout.isDownward, lineStyle: { color: FAINT, width: 0.6 } },
      axisLine: { show: false, onZero: false },
      every: 1,
      label: { rotate: 0, texts: layout.y.ticks.map(({ text }) => shortened(text, MOST_OF_ROW_NAME)) },
    }),
    series: [
      ...(chart.areas?.length ? areasOptions(chart.areas, layout) : []),
      ...series.flatMap((_, k) => seriesOptions(chart, series, k)),
      ...(chart.levels?.length ? [levelsOption(chart.levels, layout)] : []),
    ],
  };
}

interface AxisLook extends Record<string, unknown> {
  readonly every: number;
  readonly label: { readonly rotate: number; readonly texts: readonly string[] };
}

function axisOption(name: string, { min, max, ticks }: AxisScale, { every, label, ...look }: AxisLook) {
  const texts = new Map(ticks.map(({ at }, k) => [at, label.texts[k] ?? ""]));
  const at = ticks.filter((_, k) => k % every === 0).map((tick) => tick.at);
  return {
    type: "value" as const,
    min,
    max,
    name,
    nameTextStyle: { color: INK, fontSize: 11 },
    axisLabel: {
      customValues: at,
      color: INK,
      fontSize: 11,
      rotate: label.rotate,
      hideOverlap: false,
      formatter: (value: number) => texts.get(value) ?? "",
    },
    axisTick: { show: true, customValues: at, length: 3, lineStyle: { color: INK } },
    ...look,
  };
}

/** Without what only a mouse or a script would use, with a name for those who don't see it, and ids of its page. */
function madeQuiet(drawn: string, chart: StudyChart, id: string): string {
  return drawn
    .replace(/<style ?>[\s\S]*?<\/style>/g, "")
    .replace(/ (?:class|pointer-events|ecmeta_\w+|xmlns:xlink|version|baseProfile)="[^"]*"/g, "")
    .replace(/\bzr\d+-/g, `${id}-`)
    .replace(
      /^<svg width="\d+" height="\d+"/,
      `<svg role="img" aria-labelledby="${id}-title" aria-describedby="${id}-text" class="chart"`,
    )
    .replace(
      /^(<svg[^>]*>)/,
      `$1<title id="${id}-title">${htmlText(chart.title)}</title><desc id="${id}-text">${htmlText(inWords(chart))}</desc>`,
    )
    .replace(/\n+/g, "\n");
}

function inWords({ x, y, series, levels = [], areas = [] }: StudyChart): string {
  // Of lying bars the names stand along y, and the values along x.
  const isLying = y.names !== undefined;
  const drawn = series.map(({ name, points, draw }) => {
    const values = points.map(([across, up]) => (isLying ? across : up));
    const range = values.length === 0 ? "" : ` from ${short(least(values))} to ${short(greatest(values))}`;
    // Both ends of an interval are points of their own.
    const count = draw === "intervals" ? values.length / 2 : values.length;
    return `${name === "" ? "values" : name}: ${count} of them${range}`;
  });
  const [value, place] = isLying ? [x, y] : [y, x];
  return `${[`${value.label} against ${place.label}`, ...drawn, ...levels.map(({ label, at }) => `${label} at ${short(at)}`), ...areas.map(({ label, from, to }) => `${label} from ${short(from)} to ${short(to)}`)].join("; ")}.`;
}

function short(value: number): string {
  return String(Number(value.toPrecision(4)));
}

function least(values: readonly number[]): number {
  return values.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY);
}

function greatest(values: readonly number[]): number {
  return values.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);
}
