import type { ChartSeries, StudyChart } from "../quality/study-report.ts";
import { shortened } from "./chart-frame.ts";
import { MOST_OF_LEGEND } from "./chart-layout.ts";
import { INK, lookOf } from "./chart-looks.ts";
import { MARKED_NAME } from "./chart-series.ts";

const ITEM_WIDTH_px = 26;
const WHISKERS = "path://M0 0h10v2h-10zM4 0h2v20h-2zM0 18h10v2h-10z";

/** The legend's settings; what a series looks like stands before its name. */
export function legendOf({ series }: StudyChart) {
  const isMarked = series.some(({ marked = [] }) => marked.length > 0);
  return {
    top: 0,
    left: 30,
    itemWidth: ITEM_WIDTH_px,
    itemHeight: 9,
    itemGap: 22,
    textStyle: { color: INK, fontSize: 11 },
    formatter: (name: string) => shortened(name, MOST_OF_LEGEND),
    data: [...legendEntries(series), ...(isMarked ? [MARKED_NAME] : [])],
  };
}

/** The library would draw a filled box for intervals, and a circle upon a line that has none. */
function legendEntries(series: readonly ChartSeries[]): readonly (string | { name: string; icon: string })[] {
  const named = series.map(({ name, draw }, k) => {
    if (draw === "intervals") return { name, icon: WHISKERS };
    return draw === "line" || draw === "steps" ? { name, icon: dashes(lookOf(series, k).dash) } : name;
  });
  const nameOf = (entry: (typeof named)[number]) => (typeof entry === "string" ? entry : entry.name);
  return named.filter(
    (entry, k) => nameOf(entry) !== "" && named.findIndex((it) => nameOf(it) === nameOf(entry)) === k,
  );
}

/** A piece of line as an icon: only its outline is taken, never how it is stroked. */
function dashes(pattern: "solid" | readonly number[]): string {
  if (pattern === "solid") return `path://M0 0h${ITEM_WIDTH_px}v1.6h-${ITEM_WIDTH_px}z`;
  const pieces: string[] = [];
  for (let x = 0, k = 0; x < ITEM_WIDTH_px; k++) {
    const length = Math.min(pattern[k % pattern.length] ?? ITEM_WIDTH_px, ITEM_WIDTH_px - x);
    if (k % 2 === 0) pieces.push(`M${x} 0h${length}v1.6h-${length}z`);
    x += length;
  }
  return `path://${pieces.join("")}`;
}
