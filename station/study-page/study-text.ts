import { escaped } from "../../limits/escaped-text.ts";
import type { StudyReport, StudyTable } from "../quality/study-report.ts";
import { wrapWords } from "../screen/wrap-words.ts";

const COLUMNS = 80;

/** A study for people at a terminal of 80 columns. */
export function studyText(report: StudyReport, source?: string): string {
  const { title, subject, tables, notes, conclusion, bands } = report;
  const answers = bands.flatMap(({ text, source }) => wrapped(`  ${text} (${source})`, "    "));
  return [
    [
      ...wrapped(title),
      ...wrapped(subject),
      ...(source === undefined ? [] : wrapped(`Source: ${source}.`, "  ")),
    ],
    ...tables.map(tableLines),
    ...(notes.length > 0 ? [notes.flatMap((note) => wrapped(note, "  "))] : []),
    [...wrapped(conclusion), ...answers],
  ]
    .map((lines) => lines.join("\n"))
    .join("\n\n");
}

function wrapped(text: string, indent = ""): readonly string[] {
  const lead = /^ */.exec(text)?.[0] ?? "";
  return wrapWords(escaped(text.trim()), COLUMNS - lead.length, indent.slice(lead.length)).map(
    (line) => lead + line,
  );
}

/** Names may hold what a terminal would obey. The spaces that set a name in are kept. */
function tableLines({ caption, columns, rows }: StudyTable): string[] {
  const cells = [columns.map(({ heading }) => heading), ...rows].map((row) =>
    columns.map((_, k) => escaped(row[k] ?? "")),
  );
  const natural = columns.map((_, k) => Math.max(...cells.map((row) => row[k]?.length ?? 0)));
  const lines = sections(natural).flatMap((section, at) => [
    ...(at === 0 ? [] : [""]),
    ...cells.map((row) => lineOf(row, columns, natural, section)),
  ]);
  return [...wrapped(caption), ...lines];
}

/**
 * Columns that stand beside each other; where they don't all fit, the rest comes below with the first column again.
 * @returns places of the columns, section by section
 */
function sections(widths: readonly number[]): number[][] {
  const room = COLUMNS - 2;
  const found: number[][] = [];
  let section: number[] = [];
  let used = 0;
  for (const [k, width] of widths.entries()) {
    const needed = cut(width) + 2;
    if (section.length > 0 && used + needed > room + 2) {
      found.push(section);
      const first = cut(widths[0] ?? 0) + 2;
      const repeats = first + needed <= room + 2 && k > 0;
      section = repeats ? [0] : [];
      used = repeats ? first : 0;
    }
    section.push(k);
    used += needed;
  }
  return [...found, section];
}

/** No column takes more than this of a line. */
const WIDEST = 66;

function cut(width: number): number {
  return Math.min(width, WIDEST);
}

function lineOf(
  row: readonly string[],
  columns: StudyTable["columns"],
  widths: readonly number[],
  section: readonly number[],
): string {
  const cells = section.map((k) => {
    const width = cut(widths[k] ?? 0);
    const text = row[k] ?? "";
    const short = text.length > width ? `${text.slice(0, width - 1)}…` : text;
    return columns[k]?.kind === "number" ? short.padStart(width) : short.padEnd(width);
  });
  return `  ${cells.join("  ")}`.trimEnd();
}
