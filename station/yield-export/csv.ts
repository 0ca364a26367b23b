import type { YieldReport } from "../yield/yield-report.ts";
import { localStamp } from "./local-stamp.ts";
import {
  type ColumnKind,
  type TableCell,
  type YieldTable,
  type YieldTableName,
  yieldTable,
} from "./yield-tables.ts";

export type DecimalSign = "point" | "comma";

export interface CsvOptions {
  readonly table: YieldTableName;
  /** comma: decimal comma, and semicolons between fields, as spreadsheets of such countries read them. */
  readonly decimal: DecimalSign;
  /** Begin with a byte order mark: spreadsheets take a file without one for another encoding than UTF-8. */
  readonly byteOrderMark: boolean;
}

/** Of a percentage: more would be digits that no count of units gives. */
const PERCENT_DIGITS = 6;

/**
 * One table of a report as CSV: RFC 4180 with a header line, in UTF-8 (RFC 7111). Texts that a spreadsheet would take for a
 * formula begin with an apostrophe, see `guarded`.
 * @example yieldCsv(report, { table: "groups", decimal: "point", byteOrderMark: false }) // "grouped by,group,...\r\nday,2026-01-05,..."
 */
export function yieldCsv(report: YieldReport, { table, decimal, byteOrderMark }: CsvOptions): string {
  const text = csvOf(yieldTable(report, table), report.asked.timeZone, decimal);
  return byteOrderMark ? `\uFEFF${text}` : text;
}

/** Every line, the last too, ends with CRLF. */
export function csvOf(
  { columns, rows }: Omit<YieldTable, "name">,
  timeZone: string,
  decimal: DecimalSign,
): string {
  const separator = decimal === "comma" ? ";" : ",";
  const headings = columns.map(({ heading, kind }) =>
    kind === "time" ? `${heading} (${timeZone})` : heading,
  );
  const lines = [
    headings.map((heading) => textField(heading, separator)),
    ...rows.map((row) =>
      columns.map(({ kind }, at) => field(row[at] ?? null, kind, { timeZone, decimal, separator })),
    ),
  ];
  return lines.map((fields) => `${fields.join(separator)}\r\n`).join("");
}

interface Convention {
  readonly timeZone: string;
  readonly decimal: DecimalSign;
  readonly separator: string;
}

function field(cell: TableCell, kind: ColumnKind, { timeZone, decimal, separator }: Convention): string {
  if (cell === null) return "";
  if (typeof cell === "number") {
    const shown = kind === "percent" ? Number((100 * cell).toFixed(PERCENT_DIGITS)) : cell;
    return plainNumber(shown).replace(".", decimal === "comma" ? "," : ".");
  }
  return textField(kind === "time" ? localStamp(cell, timeZone) : cell, separator);
}

/** Without an exponent, which not every spreadsheet reads. */
function plainNumber(value: number): string {
  const text = String(value);
  return text.includes("e") ? value.toFixed(20).replace(/\.?0+$/, "") : text;
}

/** Quoted only where it must be; with an apostrophe in front it is quoted, as OWASP advises. */
function textField(text: string, separator: string): string {
  const safe = guarded(text);
  const mustQuote = safe !== text || safe.includes(separator) || /["\r\n,;\t]|^\s|\s$/.test(safe);
  return mustQuote ? `"${safe.replaceAll('"', '""')}"` : safe;
}

/** What spreadsheets take for the beginning of a formula, in its full-width forms, too. */
const FORMULA_SIGNS = "=+\\-@\uFF1D\uFF0B\uFF0D\uFF20";
/** Characters that a spreadsheet may drop from the front of a text. */
const NOT_SEEN = "\\p{C}\\p{Z}\\s";
const ASKS_FOR_APOSTROPHE = new RegExp(`^(?:['\\t\\r\\n\\0]|[${NOT_SEEN}]*[${FORMULA_SIGNS}])`, "u");

/**
 * A text that no spreadsheet takes for a formula: OWASP, "CSV Injection", and its Application Security Verification Standard 5.0,
 * requirement 1.2.10, put an apostrophe before texts that begin with = + - @, tab, carriage return or NUL. Here also before those in
 * which only spaces or invisible characters come first, and before those that begin with an apostrophe: so `unguarded` gives back
 * exactly what was there. NUL, at which readers end a text, becomes its symbol.
 * @example guarded("=1+1") // "'=1+1"
 */
export function guarded(text: string): string {
  const marked = ASKS_FOR_APOSTROPHE.test(text) ? `'${text}` : text;
  return marked.replaceAll("\0", "\u2400");
}
