import { CustomChart, LineChart } from "echarts/charts";
import { GridComponent, LegendComponent } from "echarts/components";
import { init, use } from "echarts/core";
import { SVGRenderer } from "echarts/renderers";
import { escaped } from "../../limits/escaped-text.ts";
import type { ChartAxis, ChartLevel, StudyChart } from "../quality/study-report.ts";
import { type AxisScale, barSlot, chartScales, shortened, spreadApart, textWidth_px } from "./chart-frame.ts";
import { htmlText } from "./html-text.ts";
import { type ThinnedSeries, thinned } from "./thinned-points.ts";

const WIDTH_px = 640;
const PLOT_HEIGHT_px = 220;
const FONT = "Charter, 'Bitstream Charter', 'Source Serif 4', Cambria, Georgia, serif";
const INK = "#1c2b33";
const FAINT = "#c9cfcc";
/** Each series differs in tone, in dash and in shape: one of them is enough to tell it. */
const LOOKS = [
  { colour: "#0f5f5c", dash: "solid", symbol: "circle" },
  { colour: "#b4581a", dash: [7, 3], symbol: "rect" },
  { colour: "#6a3d7c", dash: [2, 2], symbol: "triangle" },
  { colour: "#8a8320", dash: [9, 3, 2, 3], symbol: "emptyCircle" },
  { colour: "#35699c", dash: [4, 2], symbol: "emptyRect" },
  { colour: "#4b4b4b", dash: [12, 4], symbol: "emptyTriangle" },
] as const;
/** From dark to light, so that neighbours differ in grey, too. */
const BAR_FILLS = ["#2d706b", "#f0d8c2", "#9f8aa8", "#e9e7cd", "#5d86ad", "#c4c4c4"] as const;
const LEVEL_LOOKS = {
  centre: { colour: INK, dash: "solid", width: 1 },
  "control limit": { colour: "#8c2f1b", dash: [6, 3], width: 1.2 },
  "specification limit": { colour: INK, dash: [12, 3, 2, 3], width: 1.8 },
} as const satisfies Record<ChartLevel["means"], object>;

export interface DrawnChart {
  readonly svg: string;
  /** Of how many values there is no ink of their own. */
  readonly leftOut: number;
}

/**
 * Draws a chart without a browser. The same chart gives the same text.
 * @param id unique on its page, letters and digits
 */
export function chartSvg(given: StudyChart, id: string): DrawnChart {
  const chart = withSafeTexts(given);
  use([LineChart, CustomChart, GridComponent, LegendComponent, SVGRenderer]);
  const series = chart.series.map(thinned);
  const layout = layoutOf(chart, chartScales(chart));
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
function withSafeTexts({ title, x, y, series, levels = [] }: StudyChart): StudyChart {
  const axis = ({ label, names }: ChartAxis) => ({
    label: escaped(label),
    ...(names ? { names: names.map(escaped) } : {}),
  });
  return {
    title,
    x: axis(x),
    y: axis(y),
    series: series.map((one) => ({ ...one, name: escaped(one.name) })),
    levels: levels.map((one) => ({ ...one, label: escaped(one.label) })),
  };
}

interface Layout {
  readonly x: AxisScale;
  readonly y: AxisScale;
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
  readonly height_px: number;
  readonly hasLegend: boolean;
  /** Names along y are read from the top. */
  readonly isDownward: boolean;
  /** Of names below the axis: every how many, turned or not, and how much of them. */
  readonly names: { readonly every: number; readonly turned: boolean; readonly most: number };
}

function layoutOf(chart: StudyChart, { x, y }: { x: AxisScale; y: AxisScale }): Layout {
  const { series, levels = [] } = chart;
  const named = series.filter(({ name }) => name !== "");
  const hasLegend = named.length > 1 || series.some(({ marked = [] }) => marked.length > 0);
  const legendWidth = named.reduce((sum, { name }) => sum + textWidth_px(shortened(name, 40)) + 48, 0) + 150;
  const legendRows = hasLegend ? Math.ceil(legendWidth / (WIDTH_px - 30)) : 0;
  const upright = levels.filter(({ along }) => along === "x");
  const across = levels.filter(({ along }) => along === "y");
  const right = 14 + Math.min(150, Math.max(0, ...across.map(({ label }) => textWidth_px(label) + 6)));
  const longestTick = Math.max(...y.ticks.map(({ text }) => textWidth_px(shortened(text, 22))));
  const left = 34 + longestTick;
  const names = namesLayout(chart, WIDTH_px - left - right);
  const top = 12 + legendRows * 20 + (upright.length > 0 ? 6 + 13 * Math.min(3, upright.length) : 0);
  const bottom = 44 + (names.turned ? names.most * 4.2 : 0);
  const rows = chart.y.names === undefined ? 0 : chart.y.names.length * 17;
  const height_px = Math.round(top + bottom + Math.max(PLOT_HEIGHT_px, rows));
  const isDownward = chart.y.names !== undefined;
  return { x, y, left, right, top, bottom, height_px, hasLegend, isDownward, names };
}

function namesLayout({ x }: StudyChart, width_px: number): Layout["names"] {
  if (!x.names) return { every: 1, turned: false, most: 40 };
  const slot = width_px / Math.max(1, x.names.length);
  const longest = Math.max(0, ...x.names.map(textWidth_px));
  if (longest <= slot - 6) return { every: 1, turned: false, most: 40 };
  const isShort = longest <= 40;
  const every = Math.max(1, Math.ceil((isShort ? longest + 8 : 15) / slot));
  const longestName = Math.max(...x.names.map((name) => [...name].length));
  return { every, turned: !isShort, most: Math.min(16, longestName) };
}

function optionOf(chart: StudyChart, series: readonly ThinnedSeries[], layout: Layout) {
  const { left, right, top, bottom, hasLegend } = layout;
  return {
    animation: false,
    textStyle: { fontFamily: FONT, fontSize: 11, color: INK },
    ...(hasLegend ? { legend: legendOf(chart) } : {}),
    // Room for labels is reckoned here: levels must lie where the axis says.
    grid: { left, right, top, bottom, outerBoundsMode: "none" as const },
    xAxis: axisOption(chart.x.label, layout.x, {
      nameLocation: "middle",
      nameGap: bottom - 16,
      splitLine: { show: false },
      axisLine: { show: true, onZero: false, lineStyle: { color: INK } },
      every: layout.names.every,
      label: {
        rotate: layout.names.turned ? 40 : 0,
        most: layout.names.most,
      },
    }),
    yAxis: axisOption(chart.y.label, layout.y, {
      nameLocation: "middle",
      nameGap: left - 14,
      inverse: layout.isDownward,
      splitLine: { show: !layout.isDownward, lineStyle: { color: FAINT, width: 0.6 } },
      axisLine: { show: false, onZero: false },
      every: 1,
      label: { rotate: 0, most: 22 },
    }),
    series: [
      ...series.flatMap((one, k) => seriesOptions(chart, one, k)),
      ...(chart.levels?.length ? [levelsOption(chart.levels, layout)] : []),
    ],
  };
}

interface AxisLook extends Record<string, unknown> {
  readonly every: number;
  readonly label: { readonly rotate: number; readonly most: number };
}

function axisOption(name: string, { min, max, ticks }: AxisScale, { every, label, ...look }: AxisLook) {
  const texts = new Map(ticks.map(({ at, text }) => [at, shortened(text, label.most)]));
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

/** The legend draws a line's shapes in their size, and stretches those of a scatter. */
const NO_LINE = { width: 0, opacity: 0 } as const;
const MARKED_NAME = "out of the ordinary";

function legendOf({ series }: StudyChart) {
  const isMarked = series.some(({ marked = [] }) => marked.length > 0);
  return {
    top: 0,
    left: 30,
    itemWidth: 26,
    itemHeight: 9,
    itemGap: 16,
    textStyle: { color: INK, fontSize: 11 },
    formatter: (name: string) => shortened(name, 40),
    data: [
      ...new Set(series.map(({ name }) => name).filter((name) => name !== "")),
      ...(isMarked ? [MARKED_NAME] : []),
    ],
  };
}

function seriesOptions(chart: StudyChart, one: ThinnedSeries, k: number): object[] {
  const { colour, dash, symbol } = LOOKS[k % LOOKS.length] ?? LOOKS[0];
  const points = one.points.map(([x, y]) => [x, y]);
  const common = { name: one.name, silent: true, itemStyle: { color: colour } };
  const marked = (one.marked ?? []).flatMap((at) => (points[at] ? [points[at]] : []));
  const marks = {
    type: "line",
    name: MARKED_NAME,
    showSymbol: true,
    clip: false,
    lineStyle: NO_LINE,
    silent: true,
    data: marked,
    symbol: "diamond",
    symbolSize: 11,
    itemStyle: { color: INK, borderColor: "#fff", borderWidth: 1 },
    z: 5,
  };
  const size = points.length > 400 ? 3 : points.length > 120 ? 4 : 6;
  const drawn =
    one.draw === "bars"
      ? barsOption(chart, k, common, points)
      : one.draw === "dots"
        ? {
            ...common,
            type: "line",
            data: points,
            showSymbol: true,
            symbol,
            symbolSize: size,
            clip: false,
            lineStyle: NO_LINE,
            z: 3,
          }
        : {
            ...common,
            type: "line",
            data: points,
            showSymbol: one.draw === "line and dots",
            symbol: one.draw === "line and dots" ? symbol : "none",
            symbolSize: size,
            clip: false,
            ...(one.draw === "steps" ? { step: "middle" } : {}),
            lineStyle: { color: colour, width: points.length > 400 ? 0.8 : 1.4, type: dash },
            z: 3,
          };
  return marked.length > 0 ? [drawn, marks] : [drawn];
}

interface CustomApi {
  value(dimension: number): number;
  coord(point: readonly [number, number]): [number, number];
}

/** Bars side by side where several series have one at the same place. */
function barsOption(chart: StudyChart, k: number, common: object, points: number[][]): object {
  const barSeries = chart.series.filter(({ draw }) => draw === "bars");
  const own = chart.series.slice(0, k).filter(({ draw }) => draw === "bars").length;
  const isLying = chart.y.names !== undefined;
  const isNamed = isLying || chart.x.names !== undefined;
  const slot = isNamed ? 0.7 : barSlot(barSeries.flatMap((one) => one.points.map(([x]) => x)));
  const from = -slot / 2 + (own * slot) / barSeries.length;
  const to = from + slot / barSeries.length;
  const fill = BAR_FILLS[own % BAR_FILLS.length];
  return {
    ...common,
    type: "custom",
    data: points,
    itemStyle: { color: fill, borderColor: INK, borderWidth: 0.8 },
    renderItem: (_: unknown, api: CustomApi) => {
      const [x, y] = [api.value(0), api.value(1)];
      const [ax, ay] = api.coord(isLying ? [0, y + from] : [x + from, 0]);
      const [bx, by] = api.coord(isLying ? [x, y + to] : [x + to, y]);
      return {
        type: "rect",
        shape: {
          x: Math.min(ax, bx),
          y: Math.min(ay, by),
          width: Math.abs(bx - ax),
          height: Math.abs(by - ay),
        },
        style: { fill, stroke: INK, lineWidth: 0.8 },
      };
    },
  };
}

/** Lines straight across, named at their end; names that would lie upon one another are moved apart. */
function levelsOption(levels: readonly ChartLevel[], layout: Layout): object {
  const { left, right, top, bottom, height_px, x, y, isDownward } = layout;
  const inner = { left, right: WIDTH_px - right, top, bottom: height_px - bottom };
  const across = (at: number) => {
    const part = (at - y.min) / (y.max - y.min);
    return isDownward
      ? inner.top + part * (inner.bottom - inner.top)
      : inner.bottom - part * (inner.bottom - inner.top);
  };
  const upright = (at: number) => inner.left + ((at - x.min) / (x.max - x.min)) * (inner.right - inner.left);
  const places = levels.map(({ along, at }) => (along === "y" ? across(at) : upright(at)));
  const ofY = levels.flatMap(({ along }, k) => (along === "y" ? [k] : []));
  const ofX = levels
    .flatMap(({ along }, k) => (along === "x" ? [k] : []))
    .sort((a, b) => (places[a] ?? 0) - (places[b] ?? 0));
  const spread = spreadApart(
    ofY.map((k) => places[k] ?? 0),
    12,
  );
  return {
    type: "custom",
    name: "",
    silent: true,
    clip: false,
    z: 4,
    data: levels.map((_, k) => [k]),
    renderItem: (_: unknown, api: CustomApi) => {
      const k = api.value(0);
      const level = levels[k];
      if (!level) return null;
      const place = places[k] ?? 0;
      const { colour, dash, width } = LEVEL_LOOKS[level.means];
      const isAcross = level.along === "y";
      const labelAt = isAcross
        ? { x: inner.right + 5, y: spread[ofY.indexOf(k)] ?? place }
        : { x: Math.min(place, WIDTH_px - 60), y: inner.top - 8 - 13 * (ofX.indexOf(k) % 3) };
      return {
        type: "group",
        children: [
          {
            type: "line",
            shape: isAcross
              ? { x1: inner.left, x2: inner.right, y1: place, y2: place }
              : { x1: place, x2: place, y1: labelAt.y + 6, y2: inner.bottom },
            style: { stroke: colour, lineWidth: width, ...(dash === "solid" ? {} : { lineDash: [...dash] }) },
          },
          {
            type: "text",
            style: {
              text: shortened(level.label, isAcross ? 24 : 40),
              ...labelAt,
              fill: colour,
              font: `11px ${FONT}`,
              textAlign: isAcross ? "left" : "center",
              textVerticalAlign: "middle",
            },
          },
        ],
      };
    },
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
      `<svg role="img" aria-labelledby="${id}-title ${id}-text" class="chart"`,
    )
    .replace(
      /^(<svg[^>]*>)/,
      `$1<title id="${id}-title">${htmlText(chart.title)}</title><desc id="${id}-text">${htmlText(inWords(chart))}</desc>`,
    )
    .replace(/\n+/g, "\n");
}

function inWords({ x, y, series, levels = [] }: StudyChart): string {
  const drawn = series.map(({ name, points }) => {
    const values = points.map(([, value]) => value);
    const range = values.length === 0 ? "" : ` from ${short(least(values))} to ${short(greatest(values))}`;
    return `${name === "" ? "values" : name}: ${values.length} of them${range}`;
  });
  return `${[`${y.label} against ${x.label}`, ...drawn, ...levels.map(({ label, at }) => `${label} at ${short(at)}`)].join("; ")}.`;
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
