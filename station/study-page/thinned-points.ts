import type { ChartSeries } from "../quality/study-report.ts";

/** How many places of ink a chart has, across and up. */
const COLUMNS = 500;
const ROWS = 240;
const DRAWN_WHOLE = 1500;

export interface ThinnedSeries extends ChartSeries {
  /** How many values were left out, since others are drawn on the same spot or between the same ends. */
  readonly leftOut: number;
}

/**
 * A series without the points that no reader could see: of dots, one of those on the same spot; of lines, the ends and
 * extremes of each column. Marked points stay. A million values would make a picture of a hundred megabytes.
 */
export function thinned(series: ChartSeries): ThinnedSeries {
  const { points, marked = [] } = series;
  if (points.length <= DRAWN_WHOLE || series.draw === "bars" || series.draw === "intervals")
    return { ...series, leftOut: 0 };
  const bounds = boundsOf(points);
  const column = ([x]: readonly [number, number]) => place(x, bounds.left, bounds.right, COLUMNS);
  const row = ([, y]: readonly [number, number]) => place(y, bounds.bottom, bounds.top, ROWS);
  const isMarked = new Set(marked);
  const kept =
    series.draw === "dots"
      ? firstOfEach(points, isMarked, (point) => column(point) * (ROWS + 1) + row(point))
      : endsOfRuns(points, isMarked, column);
  return {
    ...series,
    points: kept.map((k) => points[k] ?? [0, 0]),
    marked: kept.flatMap((k, at) => (isMarked.has(k) ? [at] : [])),
    leftOut: points.length - kept.length,
  };
}

type Points = ChartSeries["points"];

function firstOfEach(
  points: Points,
  marked: ReadonlySet<number>,
  spot: (point: Points[number]) => number,
): number[] {
  const seen = new Set<string>();
  const kept: number[] = [];
  for (const [k, point] of points.entries()) {
    const at = `${marked.has(k)} ${spot(point)}`;
    if (seen.has(at)) continue;
    seen.add(at);
    kept.push(k);
  }
  return kept;
}

/** Of each run of points within a column: first, lowest, highest, last, and marked ones, though no more than have a row. */
function endsOfRuns(
  points: Points,
  marked: ReadonlySet<number>,
  column: (point: Points[number]) => number,
): number[] {
  const kept: number[] = [];
  for (let first = 0; first < points.length; ) {
    let last = first;
    let [lowest, highest] = [first, first];
    const here = column(points[first] ?? [0, 0]);
    const markedHere: number[] = [];
    for (; last < points.length && column(points[last] ?? [0, 0]) === here; last++) {
      const y = points[last]?.[1] ?? 0;
      if (y < (points[lowest]?.[1] ?? 0)) lowest = last;
      if (y > (points[highest]?.[1] ?? 0)) highest = last;
      if (marked.has(last) && markedHere.length < ROWS) markedHere.push(last);
    }
    kept.push(...[...new Set([first, lowest, highest, last - 1, ...markedHere])].sort((a, b) => a - b));
    first = last;
  }
  return kept;
}

function boundsOf(points: Points) {
  let [left, right, bottom, top] = [Infinity, -Infinity, Infinity, -Infinity];
  for (const [x, y] of points) {
    left = Math.min(left, x);
    right = Math.max(right, x);
    bottom = Math.min(bottom, y);
    top = Math.max(top, y);
  }
  return { left, right, bottom, top };
}

function place(value: number, from: number, to: number, places: number): number {
  return to > from ? Math.floor(((value - from) / (to - from)) * places) : 0;
}
