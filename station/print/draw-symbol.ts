import type { Paper } from "./paper.ts";
import type { CodeSymbol } from "./symbol.ts";

/**
 * Module sizes in millimetres. What readers at a line take comfortably, and the least that office and label printers of 203 dots an
 * inch and more print cleanly (two dots are 0.25 mm): common practice, no source. GS1 General Specifications ask for 0.38 mm or more on
 * most labels (from memory).
 */
const MODULE_mm = {
  "gs1-datamatrix": { wanted: 0.75, least: 0.25 },
  datamatrix: { wanted: 0.75, least: 0.25 },
  code128: { wanted: 0.375, least: 0.19 },
} as const;

/** How large a symbol is printed, quiet zone included. */
export interface PlacedSymbol {
  readonly symbol: CodeSymbol;
  readonly module_mm: number;
  readonly width: number;
  readonly height: number;
}

/** A linear symbol's bars: at least 5 mm or 15 % of its length, as ISO/IEC 15417 asks for reading by hand (from memory). */
const LEAST_BAR_mm = 5;

/**
 * @returns the symbol at its wanted size, or as large as there is room; null where it would be too small to be read
 * @example placed(symbolOf("datamatrix", "A1"), { width: 20, height: 20 })?.module_mm // 0.75
 */
export function placed(
  symbol: CodeSymbol,
  room: { readonly width: number; readonly height: number },
): PlacedSymbol | null {
  const { wanted, least } = MODULE_mm[symbol.kind];
  const columns = symbol.width + 2 * symbol.quiet;
  const isLinear = symbol.height === 1;
  const rows = symbol.height + 2 * symbol.quiet;
  const module_mm = Math.min(wanted, room.width / columns, isLinear ? wanted : room.height / rows);
  if (module_mm < least) return null;
  const width = module_mm * columns;
  if (!isLinear) return { symbol, module_mm, width, height: module_mm * rows };
  const height = Math.max(LEAST_BAR_mm, 0.15 * module_mm * symbol.width);
  return height > room.height ? null : { symbol, module_mm, width, height };
}

/** @param x, y upper left corner of the quiet zone */
export function drawSymbol(paper: Paper, placedSymbol: PlacedSymbol, x: number, y: number): void {
  const { symbol, module_mm, width, height } = placedSymbol;
  // Whatever lies under it, the quiet zone is clear.
  paper.fill({ x, y, width, height }, "white");
  const isLinear = symbol.height === 1;
  const above = isLinear ? 0 : symbol.quiet;
  paper.rectangles(
    symbol.dark.map((part) => ({
      x: x + (part.x + symbol.quiet) * module_mm,
      y: y + (part.y + above) * module_mm,
      width: part.width * module_mm,
      height: isLinear ? height : part.height * module_mm,
    })),
  );
}
