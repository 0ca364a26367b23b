import { heightOf, type Paper, type TextStyle } from "./paper.ts";

/** A part of a page that knows how tall it is before it is drawn. */
export interface Block {
  readonly height: number;
  draw(paper: Paper, x: number, y: number): void;
}

/** How densely a page is set: what is cut is said to be cut. */
export interface Setting {
  readonly paper: Paper;
  readonly width: number;
  /** Height of the letters, millimetres. */
  readonly size: number;
  /** Lines a text may take, and entries a list may have. */
  readonly mostLines: number;
  readonly mostRows: number;
}

export interface Cell {
  readonly text: string;
  /** White on black: what a black and white printer can't hide. */
  readonly isLoud?: boolean;
  readonly isStrong?: boolean;
}

const GAP = 0.6;

/** A table whose widest columns give way. Rows that there is no room for are counted in a last line. */
export function table(
  setting: Setting,
  heading: string,
  head: readonly string[],
  rows: readonly (readonly Cell[])[],
): Block {
  const { size } = setting;
  const body = { size };
  const shown = rows.slice(0, setting.mostRows);
  const all: (readonly Cell[])[] = [head.map((text) => ({ text, isStrong: true })), ...shown];
  const widths = columnWidths(setting, all);
  const laid = all.map((row) =>
    row.map((cell, column) => ({ cell, lines: clipped(setting, cell, widths[column] ?? 0) })),
  );
  const heights = laid.map(
    (row) => heightOf(Math.max(1, ...row.map(({ lines }) => lines.length)), body) + 0.25 * size,
  );
  const left = rows.length - shown.length;
  const more = left > 0 ? [`and ${left} more: see drumtight find`] : [];
  const headingHeight = heading === "" ? 0 : heightOf(1, body) + 0.2 * size;
  return {
    height: headingHeight + sum(heights) + heightOf(more.length, body),
    draw: (paper, x, top) => {
      if (heading !== "") paper.fitted(heading, x, top, setting.width, { size, weight: "strong" });
      let y = top + headingHeight;
      for (const [i, row] of laid.entries()) {
        let column = x;
        for (const [j, { cell, lines }] of row.entries()) {
          const width = widths[j] ?? 0;
          if (cell.isLoud)
            paper.fill({ x: column - 0.4, y, width: width + 0.8, height: heights[i] ?? 0 }, "black");
          paper.lines(lines, column, y + 0.1 * size, width, {
            ...styleOf(cell, size),
            colour: cell.isLoud ? "white" : "black",
          });
          column += width + gapOf(size);
        }
        y += heights[i] ?? 0;
        paper.line(
          [
            [x, y],
            [x + setting.width, y],
          ],
          i === 0 ? 0.2 : 0.1,
          i === 0 ? "black" : "pale",
        );
      }
      paper.lines(more, x, y, setting.width, { size, weight: "strong" });
    },
  };
}

/** Names and what they are, in two columns side by side. */
export function pairs(
  setting: Setting,
  entries: readonly { readonly name: string; readonly text: string }[],
): Block {
  const { size, width } = setting;
  const half = (width - 4) / 2;
  const shown = entries.slice(0, 2 * setting.mostRows);
  const left = entries.length - shown.length;
  const told = left > 0 ? [...shown, { name: `${left} more`, text: "see drumtight find" }] : shown;
  const widest = Math.max(...told.map(({ name }) => setting.paper.widthOf(name, { size })));
  const nameWidth = Math.min(half * 0.35, widest + 2);
  const laid = told.map(({ name, text }) => ({
    name: clipped(setting, { text: name }, nameWidth - 1),
    text: clipped(setting, { text }, half - nameWidth),
  }));
  const heightOfPair = (pair: (typeof laid)[number]) =>
    heightOf(Math.max(pair.name.length, pair.text.length), { size }) + 0.15 * size;
  const rows = Array.from({ length: Math.ceil(laid.length / 2) }, (_, i) => laid.slice(2 * i, 2 * i + 2));
  const heights = rows.map((row) => Math.max(...row.map(heightOfPair)));
  return {
    height: sum(heights),
    draw: (paper, x, top) => {
      let y = top;
      for (const [i, row] of rows.entries()) {
        for (const [side, { name, text }] of row.entries()) {
          const at = x + side * (half + 4);
          paper.lines(name, at, y, nameWidth, { size, colour: "grey" });
          paper.lines(text, at + nameWidth, y, half - nameWidth, { size });
        }
        y += heights[i] ?? 0;
      }
    },
  };
}

/** Sentences one below the other, each with a dash before it. */
export function sentences(setting: Setting, heading: string, texts: readonly string[]): Block {
  const { size, width } = setting;
  const shown = texts.slice(0, setting.mostRows);
  const indent = size;
  const left = texts.length - shown.length;
  const told = left > 0 ? [...shown, `and ${left} more: see drumtight find`] : shown;
  const laid = told.map((text) => clipped(setting, { text }, width - indent));
  const heights = laid.map((lines) => heightOf(lines.length, { size }));
  const headingHeight = heightOf(1, { size }) + 0.1 * size;
  return {
    height: headingHeight + sum(heights),
    draw: (paper, x, top) => {
      paper.fitted(heading, x, top, width, { size, weight: "strong" });
      let y = top + headingHeight;
      for (const [i, lines] of laid.entries()) {
        paper.lines(["-"], x, y, indent, { size });
        paper.lines(lines, x + indent, y, width - indent, { size });
        y += heights[i] ?? 0;
      }
    },
  };
}

/** A text in lines; what was cut off ends in three dots. */
export function clipped({ paper, size, mostLines }: Setting, cell: Cell, width: number): string[] {
  const style = styleOf(cell, size);
  const lines = paper.wrap(cell.text, width, style);
  if (lines.length <= mostLines) return lines;
  const kept = lines.slice(0, mostLines);
  let last = kept.pop() ?? "";
  while (last !== "" && paper.widthOf(`${last}…`, style) > width) last = [...last].slice(0, -1).join("");
  return [...kept, `${last}…`];
}

function styleOf({ isLoud, isStrong }: Cell, size: number): TextStyle {
  return { size, weight: isLoud || isStrong ? "strong" : "regular" };
}

/** As wide as their texts; where that is too much, none is wider than it takes for all to fit. */
function columnWidths({ paper, width, size }: Setting, rows: readonly (readonly Cell[])[]): number[] {
  const columns = rows[0]?.length ?? 0;
  const wanted = Array.from({ length: columns }, (_, column) =>
    Math.max(
      ...rows.map((row) =>
        paper.widthOf(row[column]?.text ?? "", styleOf(row[column] ?? { text: "" }, size)),
      ),
    ),
  );
  const room = width - gapOf(size) * (columns - 1);
  let cap = Math.max(...wanted);
  for (let tries = 0; tries < 40 && sum(wanted.map((one) => Math.min(one, cap))) > room; tries++) {
    const fixed = wanted.filter((one) => one < cap);
    const next = (room - sum(fixed)) / Math.max(1, wanted.length - fixed.length);
    cap = next < cap ? next : cap * 0.95;
    if (cap <= 0) cap = room / columns;
  }
  const taken = wanted.map((one) => Math.min(one, cap));
  const spare = Math.max(0, room - sum(taken));
  return taken.map((one) => one + spare / columns);
}

function gapOf(size: number): number {
  return GAP * size + 0.6;
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}
