import { UsageError } from "../explain.ts";
import { drawSymbol, placed } from "./draw-symbol.ts";
import { type Area, heightOf, Paper } from "./paper.ts";
import { serialStyleOf } from "./sheet-page.ts";
import type { Stamp } from "./stamp.ts";
import type { CodeSymbol } from "./symbol.ts";
import type { UnitSheet } from "./unit-sheet.ts";

export interface LabelSize {
  readonly width_mm: number;
  readonly height_mm: number;
}

/** A size that label rolls are sold in: common practice, no source. */
const USUAL_LABEL: LabelSize = { width_mm: 57, height_mm: 32 };
const SMALLEST_mm = 15;
const LARGEST_mm = 300;

/**
 * @param text width and height in millimetres; undefined for a usual label
 * @throws UsageError
 * @example readLabelSize("50x25") // { width_mm: 50, height_mm: 25 }
 */
export function readLabelSize(text: string | undefined): LabelSize {
  if (text === undefined) return USUAL_LABEL;
  const found = /^(\d{1,3}(?:\.\d)?)[x×](\d{1,3}(?:\.\d)?)$/.exec(text);
  const [width_mm, height_mm] = [Number(found?.[1]), Number(found?.[2])];
  if ([width_mm, height_mm].every((side) => side >= SMALLEST_mm && side <= LARGEST_mm)) {
    return { width_mm, height_mm };
  }
  throw new UsageError(
    `--label-size ${text}: expected width and height in millimetres, ${SMALLEST_mm} to ${LARGEST_mm}, like 57x32.`,
  );
}

const MARGIN = 2;
const GAP = 1.5;
/** Below this a serial is no longer read by people. */
const LEAST_LETTERS_mm = 1.5;

/**
 * A label with word, serial, model, date and code. Only a unit that may go on gets the word PASS, black on white in a frame; any other
 * word is white on black.
 * @returns the PDF; null where there is no room for the code, or for letters that can be read
 */
export async function labelPdf(
  sheet: UnitSheet,
  symbol: CodeSymbol,
  { width_mm, height_mm }: LabelSize,
  made_at: string,
): Promise<Buffer | null> {
  const paper = new Paper({ width_mm, height_mm, title: `${sheet.serial}: ${sheet.stamp.word}`, made_at });
  const [width, height] = [width_mm - 2 * MARGIN, height_mm - 2 * MARGIN];
  const isLinear = symbol.height === 1;
  const code = placed(
    symbol,
    isLinear ? { width, height: height * 0.45 } : { width: width * 0.45, height: height - CODE_TEXT_mm },
  );
  if (!code) return null;
  const isDrawn = isLinear
    ? words(paper, sheet, { x: MARGIN, y: MARGIN, width, height: height - code.height - GAP })
    : words(paper, sheet, {
        x: MARGIN + code.width + GAP,
        y: MARGIN,
        width: width - code.width - GAP,
        height: height - CODE_TEXT_mm,
      });
  if (!isDrawn) return null;
  drawSymbol(paper, code, MARGIN, isLinear ? MARGIN + height - code.height : MARGIN);
  // Of a serial alone the letters above are the text of the code.
  if (symbol.text !== sheet.serial) {
    const size = CODE_TEXT_mm * 0.75;
    if (paper.fitted(symbol.text, MARGIN, MARGIN + height - CODE_TEXT_mm * 0.9, width, { size }) < 1)
      return null;
  }
  return paper.pdf();
}

/** Height of the line that tells people what a GS1 symbol says. */
const CODE_TEXT_mm = 2.4;

function words(paper: Paper, sheet: UnitSheet, { x, y, width, height }: Area): boolean {
  const { stamp, serial, model, date } = sheet;
  const stampHeight = Math.min(height * 0.45, 12);
  drawStamp(paper, stamp, { x, y, width, height: stampHeight });
  const top = y + stampHeight + 0.6;
  const room = height - stampHeight - 0.6;
  const small = { size: Math.min(room * 0.17, 2.2) };
  const serialRoom = room - 2 * heightOf(1, small);
  let style = serialStyleOf(paper, serial, width, Math.min(serialRoom / 1.2, 4.5));
  let lines = paper.wrap(serial, width, style);
  while (heightOf(lines.length, style) > serialRoom && style.size > LEAST_LETTERS_mm) {
    style = { ...style, size: style.size - 0.1 };
    lines = paper.wrap(serial, width, style);
  }
  if (heightOf(lines.length, style) > serialRoom + 1e-9) return false;
  paper.lines(lines, x, top, width, style);
  const below = top + serialRoom;
  paper.fitted(model, x, below, width, small);
  paper.fitted(date, x, below + heightOf(1, small), width, small);
  return true;
}

function drawStamp(paper: Paper, { word, isPass, lines }: Stamp, area: Area): void {
  const { x, y, width, height } = area;
  const colour = isPass ? "black" : "white";
  if (isPass) paper.frame(area, 0.6);
  else paper.fill(area, "black");
  const [first] = lines;
  const lineSize = first === undefined ? 0 : Math.min(height * 0.2, 2);
  const size = (height - 1.2 * lineSize - 1) / 1.2;
  const style = { weight: "strong", colour, align: "centre" } as const;
  paper.fitted(word, x + 1, y + 0.5, width - 2, { ...style, size });
  if (first !== undefined) {
    paper.fitted(first, x + 1, y + 0.5 + 1.2 * size, width - 2, { ...style, size: lineSize });
  }
}
