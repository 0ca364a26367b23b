import bwipjs from "bwip-js";
import { escaped } from "../../limits/escaped-text.ts";
import { UsageError } from "../explain.ts";
import { elementString } from "./gs1.ts";

export type SymbolKind = "gs1-datamatrix" | "datamatrix" | "code128";

/** Dark parts of a symbol in modules, from the upper left corner of the symbol without its quiet zone. */
export interface DarkPart {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** A serial as something a reader takes in, measured in modules (the X dimension is one). */
export interface CodeSymbol {
  readonly kind: SymbolKind;
  readonly width: number;
  /** Of a linear symbol 1: its bars are as long as whoever draws it has room for. */
  readonly height: number;
  /** Clear on every side that needs it. */
  readonly quiet: number;
  readonly dark: readonly DarkPart[];
  /** What it says, for people. */
  readonly text: string;
}

/** ISO/IEC 16022 asks for one module on all sides; two is common practice, no source. */
const QUIET_DATA_MATRIX = 2;
/** ISO/IEC 15417, on the left and on the right. */
const QUIET_CODE_128 = 10;
/** Extended channel interpretation of UTF-8 (AIM ECI, number 26). */
const UTF_8 = "^ECI000026";

/**
 * The symbol of a unit's serial: Data Matrix ECC 200 (ISO/IEC 16022), the same as GS1 DataMatrix with the model's GTIN, or Code 128
 * (ISO/IEC 15417).
 * @param gtin of the model, for GS1 only
 * @throws UsageError where such a symbol can't hold the serial: it says what to do
 * @example symbolOf("datamatrix", "TUB000123").width // 14
 */
export function symbolOf(kind: SymbolKind, serial: string, gtin?: string): CodeSymbol {
  if (kind === "code128") return code128(serial);
  if (kind === "datamatrix") return { ...dataMatrix(...plainContent(serial)), kind, text: serial };
  if (gtin === undefined) throw new UsageError("A GS1 symbol needs the model's GTIN.");
  const { data, text } = elementString(gtin, serial);
  return { ...dataMatrix(`^FNC1${data}`, true), kind, text };
}

/** Readers take a symbol's bytes for Latin-1 or guess; what is not plain ASCII says that it is UTF-8. */
function plainContent(serial: string): [content: string, hasFunctions: boolean] {
  // biome-ignore lint/suspicious/noControlCharactersInRegex: they are ASCII too.
  if (/^[\x00-\x7f]*$/.test(serial)) return [serial, false];
  return [UTF_8 + serial.replaceAll("^", "^^"), true];
}

function dataMatrix(content: string, parsefnc: boolean): Omit<CodeSymbol, "kind" | "text"> {
  const [matrix] = bwipjs.raw({ bcid: "datamatrix", text: content, parsefnc });
  if (!matrix || !("pixs" in matrix)) throw new Error("the encoder gave no matrix");
  const { pixs, pixx: width, pixy: height } = matrix;
  const dark = Array.from({ length: height }, (_, y) =>
    runs(pixs.slice(y * width, (y + 1) * width)).map(([x, length]) => ({ x, y, width: length, height: 1 })),
  ).flat();
  return { width, height, quiet: QUIET_DATA_MATRIX, dark };
}

/** Where ones begin in a row, and how many. @example runs([1, 1, 0, 1]) // [[0, 2], [3, 1]] */
function runs(row: readonly number[]): [start: number, length: number][] {
  const found: [number, number][] = [];
  row.forEach((module, x) => {
    const last = found.at(-1);
    if (module !== 1) return;
    if (last && last[0] + last[1] === x) last[1]++;
    else found.push([x, 1]);
  });
  return found;
}

function code128(serial: string): CodeSymbol {
  // biome-ignore lint/suspicious/noControlCharactersInRegex: Code 128 has them.
  if (!/^[\x00-\x7f]*$/.test(serial)) {
    throw new UsageError(
      `Code 128 can't hold the serial ${escaped(serial)}: it takes plain letters, digits and signs (ASCII) only. Print it with --code datamatrix.`,
    );
  }
  const [bars] = bwipjs.raw({ bcid: "code128", text: serial });
  if (!bars || !("sbs" in bars)) throw new Error("the encoder gave no bars");
  const dark: DarkPart[] = [];
  let x = 0;
  for (const [i, width] of bars.sbs.entries()) {
    // Bars and spaces in turn, beginning with a bar.
    if (i % 2 === 0) dark.push({ x, y: 0, width, height: 1 });
    x += width;
  }
  return { kind: "code128", width: x, height: 1, quiet: QUIET_CODE_128, dark, text: serial };
}
