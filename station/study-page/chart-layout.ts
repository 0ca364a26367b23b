import type { StudyChart } from "../quality/study-report.ts";
import { type AxisScale, chartScales, shortened, shortenedApart, textWidth_px } from "./chart-frame.ts";

export const WIDTH_px = 640;
const PLOT_HEIGHT_px = 220;
const TURNED_degrees = 40;
const MOST_OF_TURNED_NAME = 16;
/** More of a name is not written in a legend. */
export const MOST_OF_LEGEND = 40;
/** More of a name is not written beside a row. */
export const MOST_OF_ROW_NAME = 22;

/** Where a chart's plot lies, in pixels from the edges of the drawing, and how its names are written. */
export interface Layout {
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
  readonly names: NamesLayout;
}

/** Of names below the axis: every how many, and by how much they are turned. */
export interface NamesLayout {
  readonly every: number;
  readonly turned_degrees: number;
  readonly texts: readonly string[];
}

/** Room for labels is reckoned before anything is drawn: levels must lie where the axis says. */
export function layoutOf(chart: StudyChart): Layout {
  const { series, levels = [] } = chart;
  const { x, y } = chartScales(chart);
  const named = series.filter(({ name }) => name !== "");
  const hasLegend = named.length > 1 || series.some(({ marked = [] }) => marked.length > 0);
  const legendWidth = named.reduce((sum, { name }) => sum + textWidth_px(shortened(name, 40)) + 54, 0) + 150;
  const legendRows = hasLegend ? Math.ceil(legendWidth / (WIDTH_px - 30)) : 0;
  const upright = levels.filter(({ along }) => along === "x");
  const across = levels.filter(({ along }) => along === "y");
  const right = 14 + Math.min(160, Math.max(0, ...across.map(({ label }) => textWidth_px(label) + 6)));
  const longestTick = Math.max(...y.ticks.map(({ text }) => textWidth_px(shortened(text, MOST_OF_ROW_NAME))));
  const besideTicks = 34 + longestTick;
  const names = namesLayout(chart, WIDTH_px - besideTicks - right);
  const left = Math.max(besideTicks, roomOfTurned(names, WIDTH_px - right));
  const top = 12 + legendRows * 21 + (upright.length > 0 ? 6 + 13 * Math.min(3, upright.length) : 0);
  const longestName = Math.max(0, ...names.texts.map((text) => text.length));
  const bottom = 44 + (names.turned_degrees > 0 ? longestName * 4.4 : 0);
  const rows = chart.y.names === undefined ? 0 : chart.y.names.length * 17;
  const height_px = Math.round(top + bottom + Math.max(PLOT_HEIGHT_px, rows));
  const isDownward = chart.y.names !== undefined;
  return { x, y, left, right, top, bottom, height_px, hasLegend, isDownward, names };
}

function namesLayout({ x }: StudyChart, width_px: number): NamesLayout {
  if (!x.names) return { every: 1, turned_degrees: 0, texts: [] };
  const slot = width_px / Math.max(1, x.names.length);
  const longest = Math.max(0, ...x.names.map(textWidth_px));
  if (longest <= slot - 6) return { every: 1, turned_degrees: 0, texts: x.names };
  const isShort = longest <= 40;
  const every = Math.max(1, Math.ceil((isShort ? longest + 8 : 15) / slot));
  if (isShort) return { every, turned_degrees: 0, texts: x.names };
  return { every, turned_degrees: TURNED_degrees, texts: shortenedApart(x.names, MOST_OF_TURNED_NAME) };
}

/** A turned name ends below its place and begins left of it: the first ones would begin left of the drawing. */
function roomOfTurned({ every, turned_degrees, texts }: NamesLayout, rightEnd_px: number): number {
  if (turned_degrees === 0) return 0;
  const lean = Math.cos((turned_degrees * Math.PI) / 180);
  const needs = texts.map((text, k) => {
    if (k % every !== 0) return 0;
    const part = (k + 0.5) / texts.length;
    return (textWidth_px(text) * lean + 4 - part * rightEnd_px) / (1 - part);
  });
  return Math.max(0, ...needs);
}
