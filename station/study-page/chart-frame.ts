import type { ChartAxis, ChartSeries, StudyChart } from "../quality/study-report.ts";

/** One axis, from end to end, and what is written along it. */
export interface AxisScale {
  readonly min: number;
  readonly max: number;
  readonly ticks: readonly { readonly at: number; readonly text: string }[];
}

const MOST_TICKS = 7;

/** Both axes of a chart, so wide that every point and level is on it; bars stand on zero. */
export function chartScales(chart: StudyChart): { readonly x: AxisScale; readonly y: AxisScale } {
  const isOnX = chart.y.names !== undefined;
  const hasBars = chart.series.some(({ draw }) => draw === "bars");
  return {
    x: scaleOf(chart, "x", chart.x, hasBars && isOnX),
    y: scaleOf(chart, "y", chart.y, hasBars && !isOnX),
  };
}

function scaleOf(chart: StudyChart, along: "x" | "y", { names }: ChartAxis, fromZero: boolean): AxisScale {
  const { levels = [], areas = [] } = chart;
  const series = chart.stacked ? chart.series.map((one, k) => onTop(chart, one, k)) : chart.series;
  if (names) {
    const ticks = names.map((text, at) => ({ at, text }));
    return { min: -0.5, max: Math.max(1, names.length) - 0.5, ticks };
  }
  let [low, high] = fromZero ? [0, 0] : [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  const take = (value: number) => {
    low = Math.min(low, value);
    high = Math.max(high, value);
  };
  for (const { points, draw } of series) {
    const margin = draw === "bars" && along === "x" ? barSlot(points.map(([x]) => x)) / 2 : 0;
    for (const [x, y] of points) {
      take((along === "x" ? x : y) - margin);
      take((along === "x" ? x : y) + margin);
    }
  }
  for (const level of levels) if (level.along === along) take(level.at);
  for (const area of areas) if (area.along === along) for (const end of [area.from, area.to]) take(end);
  if (!Number.isFinite(low) || (fromZero && low === high)) return niceScale(0, 1, fromZero ? 1 : 0);
  const leastStep = fromZero && isWhole(series, along) ? 1 : 0;
  const scale = niceScale(low, high, leastStep);
  return along === "x" ? endedNear(scale, low, high) : scale;
}

/** Bars of whole numbers are counts: there is no fifth of a unit. */
function isWhole(series: readonly ChartSeries[], along: "x" | "y"): boolean {
  return series.every(({ points }) => points.every(([x, y]) => Number.isInteger(along === "x" ? x : y)));
}

/** A series of bars as high as it stands on those below it. */
function onTop(chart: StudyChart, one: ChartSeries, k: number): ChartSeries {
  if (one.draw !== "bars") return one;
  const isLying = chart.y.names !== undefined;
  const points = one.points.map(([x, y]): readonly [number, number] => {
    const below = stackedBelow(chart.series, k, isLying, isLying ? y : x);
    return isLying ? [x + below, y] : [x, y + below];
  });
  return { ...one, points };
}

/**
 * What the bars of earlier series come to at a place, upon which the next one stands.
 * @param at the place: of upright bars an x, of lying ones a y
 * @example stackedBelow([{ draw: "bars", points: [[0, 5]] }, ...], 1, false, 0) // 5
 */
export function stackedBelow(
  series: readonly ChartSeries[],
  k: number,
  isLying: boolean,
  at: number,
): number {
  let sum = 0;
  for (const { draw, points } of series.slice(0, k)) {
    if (draw !== "bars") continue;
    for (const [x, y] of points) if ((isLying ? y : x) === at) sum += isLying ? x : y;
  }
  return sum;
}

/** The narrowest distance of neighbours, so that bars of a histogram touch. */
export function barSlot(places: readonly number[]): number {
  const sorted = [...new Set(places)].sort((a, b) => a - b);
  let narrowest = Number.POSITIVE_INFINITY;
  for (const [k, place] of sorted.entries()) {
    const before = sorted[k - 1];
    if (before !== undefined) narrowest = Math.min(narrowest, place - before);
  }
  return Number.isFinite(narrowest) ? narrowest : 1;
}

/**
 * Ends and ticks at steps of 1, 2 or 5 times a power of ten.
 * @param leastStep no tick is nearer to the next one
 * @example niceScale(3.2, 9.7) // 2 to 10, ticks 2, 4, 6, 8, 10
 */
function niceScale(low: number, high: number, leastStep = 0): AxisScale {
  // Values that differ in their last bits only have no steps between them.
  const least = Math.max(Math.abs(low), Math.abs(high)) * 1e-9;
  if (!(high - low > least)) {
    const around = low === 0 ? 1 : Math.abs(low) * 0.1;
    return niceScale(low - around, low + around, leastStep);
  }
  const step = Math.max(leastStep, niceStep((high - low) / (MOST_TICKS - 1)));
  const first = Math.floor(low / step + 1e-9);
  const last = Math.ceil(high / step - 1e-9);
  const ticks = Array.from({ length: last - first + 1 }, (_, k) => {
    const at = Number(((first + k) * step).toPrecision(12));
    return { at, text: tickText(at, step) };
  });
  return { min: ticks[0]?.at ?? low, max: ticks.at(-1)?.at ?? high, ticks };
}

/** A third of a plot must not stay empty, because the next round number is far away: 125 values end at 127, and not at 150. */
function endedNear({ min, max, ticks }: AxisScale, low: number, high: number): AxisScale {
  if (!(high - low > 0.1 * (max - min))) return { min, max, ticks };
  const margin = 0.02 * (high - low);
  const ends = { min: Math.max(min, low - margin), max: Math.min(max, high + margin) };
  return { ...ends, ticks: ticks.filter(({ at }) => at >= ends.min && at <= ends.max) };
}

function niceStep(least: number): number {
  const power = 10 ** Math.floor(Math.log10(least));
  const step = [1, 2, 5].find((it) => it * power >= least * (1 - 1e-9)) ?? 10;
  return step * power;
}

function tickText(at: number, step: number): string {
  const largest = Math.max(Math.abs(at), step);
  if (largest >= 1e6 || largest < 1e-4)
    return at === 0 ? "0" : String(Number(at.toPrecision(6)).toExponential());
  const decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  return at.toFixed(Math.min(12, decimals));
}

/** How wide a text is at the charts' size: nobody measures fonts where a page is made without a browser. */
export function textWidth_px(text: string): number {
  return text.length * 6.6;
}

/** @example shortened("cavity with a long name", 10) // "cavity wi…" */
export function shortened(text: string, most: number): string {
  const characters = [...text];
  return characters.length <= most ? text : `${characters.slice(0, Math.max(1, most - 1)).join("")}…`;
}

/**
 * Names cut to what there is room for: from their ends, or from their beginnings where only the ends tell them apart.
 * @example shortenedApart(["sample piece 01", "sample piece 02"], 8) // ["…iece 01", "…iece 02"]
 */
export function shortenedApart(names: readonly string[], most: number): readonly string[] {
  const cut = names.map((name) => shortened(name, most));
  const kinds = new Set(names).size;
  if (new Set(cut).size === kinds) return cut;
  const ends = names.map((name) => {
    const characters = [...name];
    return characters.length <= most ? name : `…${characters.slice(1 - most).join("")}`;
  });
  return new Set(ends).size > new Set(cut).size ? ends : cut;
}

/**
 * Moves labels apart that would lie upon one another, each as little as the order allows.
 * @param places in pixels, any order
 * @returns the same labels' places, at least `apart` from each other
 */
export function spreadApart(places: readonly number[], apart: number): readonly number[] {
  const order = places.map((place, k) => ({ place, k })).sort((a, b) => a.place - b.place || a.k - b.k);
  // Groups that touch move as one, about the middle of where they belong.
  const groups: { sum: number; members: number[] }[] = [];
  const top = ({ sum, members }: { sum: number; members: number[] }) =>
    sum / members.length - ((members.length - 1) * apart) / 2;
  for (const { place, k } of order) {
    groups.push({ sum: place, members: [k] });
    for (;;) {
      const [last, before] = [groups.at(-1), groups.at(-2)];
      if (!last || !before || top(last) >= top(before) + before.members.length * apart - 1e-9) break;
      groups.splice(-2, 2, { sum: before.sum + last.sum, members: [...before.members, ...last.members] });
    }
  }
  const spread = new Array<number>(places.length).fill(0);
  for (const group of groups) {
    for (const [j, k] of group.members.entries()) spread[k] = top(group) + j * apart;
  }
  return spread;
}
