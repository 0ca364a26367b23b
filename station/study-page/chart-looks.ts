import type { ChartLevel, ChartSeries } from "../quality/study-report.ts";

export const FONT = "Charter, 'Bitstream Charter', 'Source Serif 4', Cambria, Georgia, serif";
export const INK = "#1c2b33";
export const FAINT = "#c9cfcc";

interface Look {
  readonly colour: string;
  readonly dash: "solid" | readonly number[];
  readonly symbol: string;
}

/** Each series differs in tone, in dash and in shape: one of them is enough to tell it. */
const FIRST_LOOK: Look = { colour: "#0f5f5c", dash: "solid", symbol: "circle" };
const SERIES_LOOKS: readonly Look[] = [
  FIRST_LOOK,
  { colour: "#b4581a", dash: [7, 3], symbol: "rect" },
  { colour: "#6a3d7c", dash: [2, 2], symbol: "triangle" },
  { colour: "#8a8320", dash: [9, 3, 2, 3], symbol: "emptyCircle" },
  { colour: "#35699c", dash: [4, 2], symbol: "emptyRect" },
  { colour: "#4b4b4b", dash: [12, 4], symbol: "emptyTriangle" },
];

/** From dark to light, so that neighbours differ in grey, too. */
const BAR_FILLS = ["#2d706b", "#f0d8c2", "#9f8aa8", "#e9e7cd", "#5d86ad", "#c4c4c4"] as const;

export const LEVEL_LOOKS = {
  centre: { colour: INK, dash: "solid", width: 1 },
  "control limit": { colour: "#8c2f1b", dash: [6, 3], width: 1.2 },
  "specification limit": { colour: INK, dash: [12, 3, 2, 3], width: 1.8 },
} as const satisfies Record<ChartLevel["means"], object>;

/** How the k-th series of a chart looks: by what it means, as the one it belongs to, or as nobody else. */
export function lookOf(series: readonly ChartSeries[], k: number): Look {
  const one = series[k];
  if (one?.means) return { ...LEVEL_LOOKS[one.means], symbol: "none" };
  const own = series.filter(({ like, means }) => like === undefined && means === undefined);
  const place = own.findIndex((it) => (one?.like === undefined ? it === one : it.name === one.like));
  return SERIES_LOOKS[Math.max(0, place) % SERIES_LOOKS.length] ?? FIRST_LOOK;
}

/** @param k how many series of bars come before */
export function barFill(k: number): string {
  return BAR_FILLS[k % BAR_FILLS.length] ?? INK;
}
