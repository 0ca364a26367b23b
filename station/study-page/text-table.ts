import { escaped } from "../../limits/escaped-text.ts";
import type { StudyTable } from "../quality/study-report.ts";
import { wrapWords } from "../screen/wrap-words.ts";

const INDENT = "  ";
const GAP = "  ";
/** A column of text is made no narrower than this to get a table onto the terminal. */
const NARROWEST_TEXT = 20;

/**
 * A table's lines for a terminal. Nothing is cut off: headings and texts go on in the next line where the table would be
 * too wide, and what has no room even so stands below, with the first column again.
 * @param columns of the terminal
 */
export function textTable(table: Pick<StudyTable, "columns" | "rows">, columns: number): readonly string[] {
  const shaped = table.columns.map(({ heading, kind }, k) =>
    columnOf(
      kind,
      escaped(heading),
      table.rows.map((row) => escaped(row[k] ?? "")),
    ),
  );
  return sections(shaped, columns - INDENT.length).flatMap((section, at) => [
    ...(at === 0 ? [] : [""]),
    ...sectionLines(section, table.rows.length),
  ]);
}

interface Column {
  readonly kind: "text" | "number";
  readonly heading: string;
  readonly cells: readonly string[];
  /** With nothing wrapped. */
  readonly natural: number;
  readonly least: number;
}

function columnOf(kind: Column["kind"], heading: string, cells: readonly string[]): Column {
  const body = Math.max(0, ...cells.map((cell) => cell.length));
  const word = Math.max(0, ...heading.split(" ").map((it) => it.length));
  const natural = Math.max(body, heading.length);
  const narrowest = kind === "number" ? body : Math.min(body, NARROWEST_TEXT);
  return { kind, heading, cells, natural, least: Math.min(natural, Math.max(narrowest, word)) };
}

interface Sized extends Column {
  readonly width: number;
}

/** Columns that stand beside each other, each with its width. */
function sections(columns: readonly Column[], room: number): readonly (readonly Sized[])[] {
  const least = (some: readonly Column[]) =>
    some.reduce((sum, column) => sum + Math.min(column.least, room), (some.length - 1) * GAP.length);
  const found: Column[][] = [];
  let section: Column[] = [];
  for (const column of columns) {
    const [first] = columns;
    if (section.length > 0 && least([...section, column]) > room) {
      found.push(section);
      section = first && least([first, column]) <= room ? [first] : [];
    }
    section.push(column);
  }
  return [...found, section].map((some) => sized(some, room));
}

/** Narrowed letter by letter where that makes the table least tall, the widest column before others. */
function sized(columns: readonly Column[], room: number): readonly Sized[] {
  const widths = columns.map(({ natural }) => natural);
  const heights = columns.map(lineCounter);
  const tall = (widths: readonly number[]) => {
    const lines = heights.map((linesAt, k) => linesAt(widths[k] ?? 1));
    return (lines[0] ?? []).reduce((sum, _, row) => sum + Math.max(...lines.map((own) => own[row] ?? 1)), 0);
  };
  const used = () => widths.reduce((sum, width) => sum + width, (columns.length - 1) * GAP.length);
  while (used() > room) {
    const narrowed = columns.flatMap(({ least }, k) => {
      const width = widths[k] ?? 0;
      return width > Math.min(least, room) ? [{ k, width, height: tall(widths.with(k, width - 1)) }] : [];
    });
    const [best] = narrowed.sort((a, b) => a.height - b.height || b.width - a.width);
    if (!best) break;
    widths[best.k] = best.width - 1;
  }
  return columns.map((column, k) => ({ ...column, width: widths[k] ?? 0 }));
}

/** Rows after these don't count in the choice of widths. */
const ROWS_WEIGHED = 100;

/** How many lines heading and cells take at a width. */
function lineCounter({ kind, heading, cells }: Column): (width: number) => readonly number[] {
  const known = new Map<number, readonly number[]>();
  const count = (width: number) => [
    wrapWords(heading, width).length,
    ...cells
      .slice(0, ROWS_WEIGHED)
      .map((cell) => (kind === "number" || cell.length <= width ? 1 : wrapWords(cell, width).length)),
  ];
  return (width) => {
    const found = known.get(width) ?? count(width);
    known.set(width, found);
    return found;
  };
}

function sectionLines(columns: readonly Sized[], rows: number): string[] {
  const headings = columns.map(({ heading, width }) => wrapWords(heading, width));
  const tallest = Math.max(...headings.map((lines) => lines.length));
  const head = headings.map((lines) => [...new Array<string>(tallest - lines.length).fill(""), ...lines]);
  const body = Array.from({ length: rows }, (_, k) => columns.map((column) => cellLines(column, k)));
  return [head, ...body].flatMap((cells) => rowLines(columns, cells));
}

/** The spaces that set a name in are kept. */
function cellLines({ cells, width }: Sized, row: number): readonly string[] {
  const cell = cells[row] ?? "";
  if (cell.length <= width) return [cell];
  const lead = /^ */.exec(cell)?.[0] ?? "";
  return wrapWords(cell.trim(), width - lead.length).map((line) => lead + line);
}

function rowLines(columns: readonly Sized[], cells: readonly (readonly string[])[]): string[] {
  const height = Math.max(1, ...cells.map((lines) => lines.length));
  return Array.from({ length: height }, (_, at) => {
    const line = columns.map(({ kind, width }, k) => {
      const text = cells[k]?.[at] ?? "";
      return kind === "number" ? text.padStart(width) : text.padEnd(width);
    });
    return `${INDENT}${line.join(GAP)}`.trimEnd();
  });
}
