import { formatNumber } from "../../limits/print-quantity.ts";

/** A curve over a length of time, with lines that it is to be compared with; values in the unit they are shown in. */
export interface Plot {
  /** In order of time, from the left end of the time axis. */
  readonly samples: readonly PlotSample[];
  /** Of the time axis; a curve that runs longer makes it longer. */
  readonly length_s: number;
  readonly lines: readonly PlotLine[];
  readonly unit: string;
  /** A span of values that is at least shown: less is noise. */
  readonly leastSpan: number;
  /** What curve and dashes are, longest first; the first that fits stands under the curve. */
  readonly captions: readonly string[];
}

export interface PlotSample {
  readonly t_s: number;
  readonly value: number;
}

/** Straight, from `since_s`, else the left end of the time axis, to `length_s`. */
export interface PlotLine {
  readonly from: number;
  readonly to: number;
  readonly since_s?: number;
}

const DOTS_ACROSS = 2;
const DOTS_DOWN = 4;
/** Braille patterns: U+2800 and a bit for each dot, by column and row of the cell (Unicode 15, chapter 21.1). */
const BLANK = 0x2800;
const DOTS = [
  [0x01, 0x02, 0x04, 0x40],
  [0x08, 0x10, 0x20, 0x80],
] as const;
const LEAST = { columns: 16, rows: 2 } as const;
/** Dots; further apart, samples are not joined. */
const WIDEST_STEP = 6;
const AXIS_GAP = 2;
/** Free above and below the curve, as a part of its span. */
const MARGIN = 0.06;

/**
 * The curve in Braille dots, its lines in dashes, which differ from it without a colour; values at the left, time beneath.
 * @returns exactly so many rows, none longer than the columns; none at all where there is no room for a curve
 * @example traceRows({ samples: [{ t_s: 0, value: -8 }], length_s: 13, lines: [], unit: "kPa", leastSpan: 0.05, captions: [] }, 40, 5)
 */
export function traceRows(plot: Plot, columns: number, rows: number): readonly string[] {
  if (columns < LEAST.columns || rows < LEAST.rows) return [];
  const samples = plot.samples.filter(({ t_s, value }) => Number.isFinite(t_s) && Number.isFinite(value));
  const length_s = Math.max(plot.length_s, samples.at(-1)?.t_s ?? 0, Number.MIN_VALUE);
  const lines = plot.lines.filter(({ from, to }) => Number.isFinite(from) && Number.isFinite(to));
  const scale = scaleOf(samples, lines, plot.leastSpan);
  const labels = labelsOf(scale, plot.unit, columns);
  const width = columns - labels.width - 1;
  const height = rows - 1;
  const cells = cellsOf(samples, scale, length_s, width, height);
  for (const line of lines) dash(cells, line, scale, (line.since_s ?? 0) / length_s);
  const last = height - 1;
  return [
    ...cells.map((row, i) => {
      const label = i === 0 ? labels.highest : i === last ? labels.lowest : "";
      return `${label.padStart(labels.width)}│${row.join("")}`;
    }),
    `${" ".repeat(labels.width + 1)}${timeAxis(length_s, width, plot.captions)}`,
  ];
}

interface Scale {
  readonly lowest: number;
  readonly highest: number;
}

/** Halves before they are added: the span of the largest numbers there are would be infinite. */
function scaleOf(samples: readonly PlotSample[], lines: readonly PlotLine[], leastSpan: number): Scale {
  let lowest = Number.POSITIVE_INFINITY;
  let highest = Number.NEGATIVE_INFINITY;
  const see = (value: number) => {
    if (value < lowest) lowest = value;
    if (value > highest) highest = value;
  };
  for (const { value } of samples) see(value);
  for (const { from, to } of lines) {
    see(from);
    see(to);
  }
  if (lowest > highest) return { lowest: 0, highest: leastSpan };
  const half = Math.max(
    (highest / 2 - lowest / 2) * (1 + 2 * MARGIN),
    leastSpan / 2,
    Math.abs(highest) * 1e-9,
    Number.MIN_VALUE,
  );
  const middle = lowest / 2 + highest / 2;
  const most = Number.MAX_VALUE / 4;
  return { lowest: Math.max(-most, middle - half), highest: Math.min(most, middle + half) };
}

/** @returns 0 at the bottom, 1 at the top; never outside */
function heightOf(value: number, { lowest, highest }: Scale): number {
  const part = (value / 2 - lowest / 2) / (highest / 2 - lowest / 2);
  return Math.min(1, Math.max(0, part));
}

function cellsOf(
  samples: readonly PlotSample[],
  scale: Scale,
  length_s: number,
  width: number,
  height: number,
): string[][] {
  const across = width * DOTS_ACROSS;
  const down = height * DOTS_DOWN;
  const patterns = new Uint8Array(width * height);
  const mark = (x: number, top: number, bottom: number) => {
    for (let dot = top; dot <= bottom; dot++) {
      const cell = Math.floor(dot / DOTS_DOWN) * width + Math.floor(x / DOTS_ACROSS);
      patterns[cell] = (patterns[cell] ?? 0) | (DOTS[x % DOTS_ACROSS]?.[dot % DOTS_DOWN] ?? 0);
    }
  };
  let last: { readonly x: number; readonly y: number } | null = null;
  for (const { t_s, value } of samples) {
    const x = Math.min(across - 1, Math.max(0, Math.floor((t_s / length_s) * across)));
    const y = Math.min(down - 1, Math.floor((1 - heightOf(value, scale)) * down));
    if (!last || x - last.x > WIDEST_STEP) mark(x, y, y);
    // From the sample before, so that neither steep nor sparse curves have holes; a longer silence stays one.
    else {
      for (let between = last.x; between < x; between++) mark(between, last.y, last.y);
      mark(x, Math.min(y, last.y), Math.max(y, last.y));
    }
    last = { x, y };
  }
  return Array.from({ length: height }, (_, row) =>
    Array.from({ length: width }, (_, column) => {
      const pattern = patterns[row * width + column] ?? 0;
      return pattern === 0 ? " " : String.fromCharCode(BLANK + pattern);
    }),
  );
}

/**
 * Where the curve is, there is no dash.
 * @param begin as a part of the time axis
 */
function dash(cells: string[][], { from, to }: PlotLine, scale: Scale, begin: number): void {
  const width = cells[0]?.length ?? 0;
  const first = Math.min(1, Math.max(0, begin)) * (width - 1);
  // Every second cell of the row, wherever the line begins: dashes that wander would flicker.
  for (let column = 2 * Math.ceil(first / 2); column < width; column += 2) {
    const part = first >= width - 1 ? 0 : (column - first) / (width - 1 - first);
    const value = from * (1 - part) + to * part;
    const row = cells[Math.min(cells.length - 1, Math.floor((1 - heightOf(value, scale)) * cells.length))];
    if (row?.[column] === " ") row[column] = "-";
  }
}

/** No more decimals than it takes to tell both ends apart. */
function labelsOf({ lowest, highest }: Scale, unit: string, columns: number) {
  const decimals = Math.min(9, Math.max(0, 1 - Math.floor(Math.log10(highest / 2 - lowest / 2) + 0.3)));
  const text = (value: number) =>
    Math.abs(value) < 1e7 ? formatNumber(value, { decimals }) : value.toExponential(1);
  const most = Math.floor(columns / 2) - 1;
  const [high, low] = [`${text(highest)} ${unit}`, `${text(lowest)} ${unit}`].map((it) => it.slice(0, most));
  const width = Math.max(high?.length ?? 0, low?.length ?? 0);
  return { highest: high ?? "", lowest: low ?? "", width };
}

function timeAxis(length_s: number, width: number, captions: readonly string[]): string {
  const rounded = length_s < 10 ? Number(length_s.toPrecision(2)) : Math.round(length_s);
  const end = `${length_s < 1e6 ? rounded : length_s.toExponential(1)} s`;
  const room = width - end.length - 2 * AXIS_GAP - 1;
  const caption = captions.find((it) => it.length <= room) ?? "";
  const blank = Math.max(0, width - 1 - caption.length - end.length);
  const before = caption === "" ? blank : Math.floor(blank / 2);
  return `0${" ".repeat(before)}${caption}${" ".repeat(blank - before)}${end}`.slice(0, width);
}
