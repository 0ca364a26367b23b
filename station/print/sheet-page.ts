import { drawLeakPlot } from "./draw-plot.ts";
import { drawSymbol, type PlacedSymbol, placed } from "./draw-symbol.ts";
import { heightOf, Paper } from "./paper.ts";
import { type Block, clipped, pairs, type Setting, sentences, table } from "./sheet-blocks.ts";
import type { Stamp } from "./stamp.ts";
import type { CodeSymbol } from "./symbol.ts";
import type { UnitSheet } from "./unit-sheet.ts";

/** ISO 216, upright; letters in millimetres: as wished, and the smallest that are still read. */
export const PAGE_SIZES = {
  a5: { width_mm: 148, height_mm: 210, margin: 9, size: 2.5, least: 1.75 },
  a4: { width_mm: 210, height_mm: 297, margin: 13, size: 3.3, least: 1.9 },
} as const;
export type PageSize = keyof typeof PAGE_SIZES;

/**
 * How a page is set, one after the other, until everything is on it. What was measured stands longest; the curve goes before any of it
 * does.
 */
const CUTS = [
  { mostLines: 6, mostRows: 60, mostMeasured: 60, hasCurve: true },
  { mostLines: 3, mostRows: 30, mostMeasured: 60, hasCurve: true },
  { mostLines: 2, mostRows: 8, mostMeasured: 60, hasCurve: true },
  { mostLines: 2, mostRows: 4, mostMeasured: 60, hasCurve: false },
  { mostLines: 1, mostRows: 4, mostMeasured: 40, hasCurve: false },
  { mostLines: 1, mostRows: 3, mostMeasured: 20, hasCurve: false },
  { mostLines: 1, mostRows: 2, mostMeasured: 8, hasCurve: false },
] as const;

/** The least room that a curve is worth. */
const LEAST_PLOT_mm = 26;
const MOST_PLOT_mm = 75;
const GAP = 2.2;

const CAUTION =
  "Pressure, suction and mains motors: only by licensed practice and local rules. Before anybody opens a unit: unplug it and isolate it.";

/**
 * The record of a unit's test on one page, drawn as vectors. It is set smaller where there is much to say, and what there is still no
 * room for is counted on it; verdict, serial and code are always whole.
 * @param made_at the date in the PDF
 * @returns the PDF; null where the code would be too small to be read
 */
export async function sheetPdf(
  sheet: UnitSheet,
  symbol: CodeSymbol,
  pageSize: PageSize,
  made_at: string,
): Promise<Buffer | null> {
  const { width_mm, height_mm, margin, size, least } = PAGE_SIZES[pageSize];
  const paper = new Paper({ width_mm, height_mm, title: `${sheet.serial}: ${sheet.stamp.word}`, made_at });
  const width = width_mm - 2 * margin;
  const isLinear = symbol.height === 1;
  const code = placed(symbol, isLinear ? { width, height: 20 } : { width: width * 0.3, height: width * 0.3 });
  if (!code) return null;
  if (sheet.across !== null) paper.across(sheet.across);
  const page = fitPage(sheet, code, { paper, width, room: height_mm - 2 * margin, size, least });
  let y = margin;
  for (const block of page.above) {
    block.draw(paper, margin, y);
    y += block.height + GAP;
  }
  const below = height_mm - margin - page.foot.height;
  if (page.plotHeight > 0) {
    const each = (width - GAP * (sheet.plots.length - 1)) / sheet.plots.length;
    for (const [i, plot] of sheet.plots.entries()) {
      const area = { x: margin + i * (each + GAP), y, width: each, height: page.plotHeight };
      drawLeakPlot(paper, plot, area, page.size);
    }
  }
  page.foot.draw(paper, margin, below);
  return paper.pdf();
}

interface Room {
  readonly paper: Paper;
  readonly width: number;
  readonly room: number;
  readonly size: number;
  readonly least: number;
}

interface FittedPage {
  readonly above: readonly Block[];
  readonly foot: Block;
  /** 0: no room for curves. */
  readonly plotHeight: number;
  readonly size: number;
}

function fitPage(
  sheet: UnitSheet,
  code: PlacedSymbol,
  { paper, width, room, size, least }: Room,
): FittedPage {
  for (const { hasCurve, ...cut } of CUTS) {
    const isDrawn = hasCurve && sheet.plots.length > 0;
    for (const scale of [1, 0.95, 0.9, 0.85, 0.8, 0.75, 0.7]) {
      const letters = Math.max(least, size * scale);
      const setting = { paper, width, size: letters, ...cut };
      const above = blocksOf(setting, sheet, code);
      const taken = above.reduce((total, block) => total + block.height + GAP, 0);
      const foot = footOf(setting, sheet, sheet.plots.length > 0 && !isDrawn);
      const spare = room - taken - foot.height;
      if (isDrawn && spare >= GAP + LEAST_PLOT_mm) {
        return { above, foot, plotHeight: Math.min(MOST_PLOT_mm, spare - GAP), size: letters };
      }
      if (!isDrawn && spare >= 0) return { above, foot, plotHeight: 0, size: letters };
      if (letters === least) break;
    }
  }
  throw new Error("a page has room for what is always on it");
}

function blocksOf(
  setting: Setting & { readonly mostMeasured: number },
  sheet: UnitSheet,
  code: PlacedSymbol,
): Block[] {
  const { characteristics, airflow, reasons, suspects, decisions, facts, details } = sheet;
  const isLinear = code.symbol.height === 1;
  return [
    headOf(setting, sheet, isLinear ? null : code),
    ...(isLinear ? [symbolRow(setting, code)] : []),
    ...(decisions.length > 0 ? [sentences(setting, "Decided about this unit, newest first", decisions)] : []),
    pairs(setting, facts),
    ...(reasons.length > 0 ? [sentences(setting, "Why", reasons)] : []),
    table(
      { ...setting, mostRows: setting.mostMeasured },
      "",
      ["measured", "value ± U (k = 2)", "limit", "verdict"],
      characteristics.length === 0
        ? NOTHING_MEASURED
        : characteristics.map(({ name, value, limit, verdict }) => [
            { text: name },
            { text: value },
            { text: limit },
            { text: verdict === "pass" ? verdict : verdict.toUpperCase(), isLoud: verdict !== "pass" },
          ]),
    ),
    ...airflow.map(({ heading, head, rows, notes }) => {
      const points = table(
        setting,
        `${heading}; ${notes.join("; ")}`,
        head,
        rows.map((row) => row.map((text) => ({ text }))),
      );
      return points;
    }),
    ...(suspects.length > 0 ? [sentences(setting, "May be wrong with it, most likely first", suspects)] : []),
    pairs(setting, details),
  ];
}

/** A table without a row looks like one whose rows were lost. */
const NOTHING_MEASURED = [["nothing", "-", "-", "-"].map((text) => ({ text }))];

/** Stamp, serial and model, with a square code on their right. */
function headOf(setting: Setting, { stamp, serial, model }: UnitSheet, code: PlacedSymbol | null): Block {
  const { paper, size, width } = setting;
  const codeText = { size: 1.7 };
  const codeWidth = code ? Math.max(code.width, 24) : 0;
  const codeLines = code
    ? textLines(code.symbol).flatMap((text) => paper.wrap(text, codeWidth, codeText))
    : [];
  const stampWidth = width - (code ? codeWidth + GAP : 0);
  const box = stampBlock({ ...setting, width: stampWidth }, stamp);
  const serialStyle = serialStyleOf(paper, serial, stampWidth, size * 2.2);
  const serialLines = paper.wrap(serial, stampWidth, serialStyle);
  const serialHeight = heightOf(serialLines.length, serialStyle);
  const modelStyle = { size: size * 1.2 };
  const left = box.height + 1.5 + serialHeight + heightOf(1, modelStyle);
  const right = code ? code.height + heightOf(codeLines.length, codeText) : 0;
  return {
    height: Math.max(left, right),
    draw: (on, x, y) => {
      box.draw(on, x, y);
      on.lines(serialLines, x, y + box.height + 1.5, stampWidth, serialStyle);
      on.fitted(`model ${model}`, x, y + box.height + 1.5 + serialHeight, stampWidth, modelStyle);
      if (!code) return;
      const column = x + width - codeWidth;
      drawSymbol(on, code, column + codeWidth - code.width, y);
      on.lines(codeLines, column, y + code.height, codeWidth, { ...codeText, align: "right" });
    },
  };
}

/** A GS1 symbol's text with each application identifier in a line of its own. */
function textLines({ kind, text }: CodeSymbol): string[] {
  return kind === "gs1-datamatrix" ? [text.slice(0, GTIN_TEXT), text.slice(GTIN_TEXT)] : [text];
}

const GTIN_TEXT = "(01)".length + 14;

/** In one line as large as wished, or smaller, or at last in several lines: never cut. */
export function serialStyleOf(paper: Paper, serial: string, width: number, wished: number) {
  const style = { size: wished, weight: "strong" } as const;
  const natural = paper.widthOf(serial, style);
  return { ...style, size: Math.max(Math.min(wished, (wished * width) / natural), Math.min(wished, 2.2)) };
}

/** A pass is black on white in a frame, and everything else white on black. */
function stampBlock(setting: Setting, { word, isPass, lines }: Stamp): Block {
  const { paper, width, size } = setting;
  const inner = width - 6;
  const style = { size: 11, weight: "strong" } as const;
  const natural = paper.widthOf(word, style);
  const wordSize = Math.min(style.size, (style.size * inner) / natural);
  const all = lines.flatMap((text) => clipped(setting, { text, isStrong: true }, inner));
  const height = heightOf(1, { size: wordSize }) + heightOf(all.length, { size }) + 3;
  const colour = isPass ? "black" : "white";
  return {
    height,
    draw: (on, x, y) => {
      const area = { x, y, width, height };
      if (isPass) on.frame(area, 0.9);
      else on.fill(area, "black");
      on.lines([word], x + 3, y + 1.2, inner, { ...style, size: wordSize, colour, align: "centre" });
      const below = y + 1.2 + heightOf(1, { size: wordSize });
      on.lines(all, x + 3, below, inner, { size, weight: "strong", colour, align: "centre" });
    },
  };
}

function symbolRow({ paper, width }: Setting, code: PlacedSymbol): Block {
  const style = { size: 1.9 };
  const lines = paper.wrap(code.symbol.text, width, style);
  return {
    height: code.height + heightOf(lines.length, style) + 0.5,
    draw: (on, x, y) => {
      drawSymbol(on, code, x, y);
      on.lines(lines, x + code.symbol.quiet * code.module_mm, y + code.height + 0.5, width, style);
    },
  };
}

function footOf(setting: Setting, sheet: UnitSheet, isWithoutCurve: boolean): Block {
  const size = Math.max(setting.size * 0.85, 1.7);
  const { sha256, sequence, printed } = sheet;
  const lines = [
    ...(isWithoutCurve ? ["There is no room for the curve on this page: a larger paper has it."] : []),
    `Record ${sequence}, ${sha256.slice(0, 12)}. SHA-256 of the traveller: ${sha256}`,
    `Printed ${printed}; what was decided or measured later is not on it: drumtight find.`,
    CAUTION,
  ].flatMap((line) => setting.paper.wrap(line, setting.width, { size }));
  return {
    height: heightOf(lines.length, { size }) + 1,
    draw: (paper, x, y) => {
      paper.line(
        [
          [x, y],
          [x + setting.width, y],
        ],
        0.2,
        "black",
      );
      paper.lines(lines, x, y + 1, setting.width, { size });
    },
  };
}
