import type { Figure } from "./figure.ts";

export type NamedFigure = { readonly bench: string } & Figure;

const COLUMNS = ["bench", "figure", "value", "against", "ratio", "reach", "met"] as const;

/** The figures in columns, for people. */
export function table(figures: readonly NamedFigure[]): string {
  const rows = [COLUMNS, ...figures.map(row)];
  const widths = COLUMNS.map((_, column) => Math.max(...rows.map((cells) => cells[column]?.length ?? 0)));
  const line = (cells: readonly string[]) =>
    cells
      .map((cell, column) => cell.padEnd(widths[column] ?? 0))
      .join("  ")
      .trimEnd();
  return `${rows.map(line).join("\n")}\n`;
}

function row(it: NamedFigure): string[] {
  return [
    it.bench,
    it.figure,
    `${short(it.value)} ${it.unit}`,
    it.against,
    it.ratio === null ? "" : short(it.ratio),
    it.reach === null ? "" : short(it.reach),
    it.met === null ? "" : it.met ? "yes" : "no",
  ];
}

function short(value: number): string {
  return String(Number(value.toPrecision(Math.abs(value) >= 1000 ? 4 : 3)));
}
