import type { CellObject, Row, Sheet } from "write-excel-file/node";
import type { YieldReport } from "../yield/yield-report.ts";
import { localStamp } from "./local-stamp.ts";
import {
  type ColumnKind,
  type TableCell,
  YIELD_TABLES,
  type YieldTable,
  type YieldTableName,
  yieldTable,
} from "./yield-tables.ts";

const SHEET_NAMES: Readonly<Record<YieldTableName, string>> = {
  summary: "Summary",
  groups: "Groups",
  pareto: "Pareto",
  checks: "Reference checks",
  revisions: "Limit revisions",
  "down-time": "Down time",
  held: "On hold",
  units: "Units",
};

/** Office Open XML number formats (ECMA-376); "@" keeps a text a text, also when somebody edits it. */
const FORMATS: Readonly<Record<ColumnKind, string>> = {
  text: "@",
  count: "#,##0",
  percent: "0.00%",
  number: "#,##0.00",
  time: "yyyy-mm-dd hh:mm:ss",
};

/** Columns are as wide as their longest cell, within these, in characters. */
const WIDTH = { least: 8, most: 60 };
/** A cell takes no more; no record's text is so long. */
const LONGEST_TEXT = 32_767;

/**
 * A report as a workbook for spreadsheets: a sheet for each table that has rows, headings that stay in sight, numbers as numbers at full
 * precision, times as dates on the plant's clocks. No cell is a formula, whatever anybody has typed.
 * @returns the bytes of an .xlsx file
 */
export async function yieldWorkbook(report: YieldReport): Promise<Uint8Array> {
  const { default: writeXlsxFile } = await import("write-excel-file/node");
  const sheets = YIELD_TABLES.map((name) => yieldTable(report, name))
    .filter(({ name, rows }) => name === "summary" || rows.length > 0)
    .map((table) => sheetOf(table, report.asked.timeZone));
  return await writeXlsxFile(sheets).toBuffer();
}

function sheetOf({ name, columns, rows }: YieldTable, timeZone: string): Sheet<never> {
  const headings = columns.map(({ heading, kind }) =>
    kind === "time" ? `${heading} (${timeZone})` : heading,
  );
  const widths = headings.map((heading, at) =>
    Math.max(...longestWords(heading), ...rows.map((row) => shownLength(row[at] ?? null, columns[at]?.kind))),
  );
  return {
    sheet: SHEET_NAMES[name],
    stickyRowsCount: 1,
    columns: widths.map((width) => ({ width: Math.min(WIDTH.most, Math.max(WIDTH.least, width + 2)) })),
    data: [
      headings.map(
        (heading) =>
          ({ ...textCell(heading), fontWeight: "bold", wrap: true, alignVertical: "top" }) as const,
      ),
      ...rows.map((row): Row => columns.map(({ kind }, at) => cellOf(row[at] ?? null, kind, timeZone))),
    ],
  };
}

function cellOf(cell: TableCell, kind: ColumnKind, timeZone: string): CellObject | null {
  if (cell === null) return null;
  if (typeof cell === "number") {
    return { type: Number, value: cell, format: kind === "text" ? "General" : FORMATS[kind] };
  }
  if (kind === "time") return { type: Date, value: onPlantClock(cell, timeZone), format: FORMATS.time };
  return textCell(cell);
}

function textCell(text: string): CellObject {
  return { type: String, value: textOf(text), format: FORMATS.text };
}

/** XML has no control characters, and a workbook reads "_x0041_" as a character's number (ECMA-376, ST_Xstring). */
function textOf(text: string): string {
  return text
    .replace(/_(?=x[0-9A-Fa-f]{4}_)/g, "_x005F_")
    .replace(/[\p{Cc}\p{Cs}\uFFFE\uFFFF]/gu, (character) =>
      character === "\n" || character === "\t"
        ? character
        : `\\u${character.charCodeAt(0).toString(16).padStart(4, "0")}`,
    )
    .slice(0, LONGEST_TEXT);
}

/** A workbook's dates have no zone: the writer takes them for UTC, and so this one shows what the clocks on the wall did. */
function onPlantClock(instant: string, timeZone: string): Date {
  const [day, time] = localStamp(instant, timeZone).split(" ");
  return new Date(`${day}T${time}.000Z`);
}

/** A heading may go on in the next line. */
function longestWords(heading: string): number[] {
  return heading.split(" ").map(({ length }) => length);
}

function shownLength(cell: TableCell, kind: ColumnKind = "text"): number {
  if (cell === null) return 0;
  if (kind === "time") return 19;
  return typeof cell === "number" ? (kind === "text" ? 12 : 10) : cell.length;
}
