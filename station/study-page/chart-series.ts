import type { StudyChart } from "../quality/study-report.ts";
import { barSlot, stackedBelow } from "./chart-frame.ts";
import { barFill, INK, lookOf } from "./chart-looks.ts";
import type { ThinnedSeries } from "./thinned-points.ts";

export const MARKED_NAME = "out of the ordinary";
/** The legend draws a line's shapes in their size, and stretches those of a scatter. */
const NO_LINE = { width: 0, opacity: 0 } as const;
const WHISKER_px = 5;

/**
 * A series as the charting library takes it, and the marks of its points out of the ordinary.
 * @param series of the chart, all of them
 * @param k which of them
 */
export function seriesOptions(chart: StudyChart, series: readonly ThinnedSeries[], k: number): object[] {
  const one = series[k];
  if (!one) return [];
  const look = lookOf(series, k);
  const points = one.points.map(([x, y]) => [x, y]);
  const common = { name: one.name, silent: true, itemStyle: { color: look.colour }, z: 4 };
  const marked = (one.marked ?? []).flatMap((at) => (points[at] ? [points[at]] : []));
  const drawn =
    one.draw === "bars"
      ? barsOption(chart, k, common, points)
      : one.draw === "intervals"
        ? intervalsOption(common, points)
        : {
            ...common,
            type: "line",
            data: points,
            ...symbolsOf(one, look.symbol),
            clip: false,
            ...(one.draw === "steps" ? { step: "middle" } : {}),
            lineStyle:
              one.draw === "dots"
                ? NO_LINE
                : { color: look.colour, width: points.length > 400 ? 0.8 : 1.4, type: look.dash },
          };
  return marked.length > 0 ? [drawn, marksOption(marked)] : [drawn];
}

function symbolsOf({ draw, points }: ThinnedSeries, symbol: string): object {
  if (draw !== "dots" && draw !== "line and dots") return { symbol: "none" };
  return { symbol, showSymbol: true, symbolSize: points.length > 400 ? 3 : points.length > 120 ? 4 : 6 };
}

function marksOption(points: number[][]): object {
  return {
    type: "line",
    name: MARKED_NAME,
    showSymbol: true,
    clip: false,
    lineStyle: NO_LINE,
    silent: true,
    data: points,
    symbol: "diamond",
    symbolSize: 11,
    itemStyle: { color: INK, borderColor: "#fff", borderWidth: 1 },
    z: 6,
  };
}

interface CustomApi {
  value(dimension: number): number;
  coord(point: readonly [number, number]): [number, number];
}

/** Bars side by side, or upon one another, where several series have one at the same place. */
function barsOption(chart: StudyChart, k: number, common: object, points: number[][]): object {
  const barSeries = chart.series.filter(({ draw }) => draw === "bars");
  const own = chart.series.slice(0, k).filter(({ draw }) => draw === "bars").length;
  const isLying = chart.y.names !== undefined;
  const isNamed = isLying || chart.x.names !== undefined;
  const slot = isNamed ? 0.7 : barSlot(barSeries.flatMap((one) => one.points.map(([x]) => x)));
  const beside = chart.stacked ? 1 : barSeries.length;
  const from = -slot / 2 + (chart.stacked ? 0 : (own * slot) / beside);
  const to = from + slot / beside;
  const below = (at: number) => (chart.stacked ? stackedBelow(chart.series, k, isLying, at) : 0);
  const fill = barFill(own);
  return {
    ...common,
    type: "custom",
    z: 2,
    data: points,
    itemStyle: { color: fill, borderColor: INK, borderWidth: 0.8 },
    renderItem: (_: unknown, api: CustomApi) => {
      const [x, y] = [api.value(0), api.value(1)];
      const foot = below(isLying ? y : x);
      const [ax, ay] = api.coord(isLying ? [foot, y + from] : [x + from, foot]);
      const [bx, by] = api.coord(isLying ? [foot + x, y + to] : [x + to, foot + y]);
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

/** An upright from each lower end to its upper one, the next point, with a foot at both; dark on light and on dark bars. */
function intervalsOption(common: object, points: number[][]): object {
  const ends = points.flatMap(([x = 0, lower = 0], k) =>
    k % 2 === 0 ? [[x, lower, points[k + 1]?.[1] ?? lower]] : [],
  );
  return {
    ...common,
    type: "custom",
    z: 3,
    clip: false,
    itemStyle: { color: INK },
    data: ends,
    encode: { x: 0, y: [1, 2] },
    renderItem: (_: unknown, api: CustomApi) => {
      const x = api.value(0);
      const [at, low] = api.coord([x, api.value(1)]);
      const [, high] = api.coord([x, api.value(2)]);
      const line = (x1: number, y1: number, x2: number, y2: number) => [
        { type: "line", shape: { x1, y1, x2, y2 }, style: { stroke: "#fff", lineWidth: 3.6 }, z2: 0 },
        { type: "line", shape: { x1, y1, x2, y2 }, style: { stroke: INK, lineWidth: 1.4 }, z2: 1 },
      ];
      return {
        type: "group",
        children: [
          ...line(at, low, at, high),
          ...line(at - WHISKER_px, low, at + WHISKER_px, low),
          ...line(at - WHISKER_px, high, at + WHISKER_px, high),
        ],
      };
    },
  };
}
