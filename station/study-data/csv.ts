import { readFileSync } from "node:fs";
import { type CsvError, parse } from "csv-parse/sync";
import { UsageError } from "../explain.ts";

/** One line of a CSV file, by the names in its header. */
export interface CsvRow {
  /** Line of the file, from 1; the header is line 1. */
  readonly line: number;
  readonly cells: Readonly<Record<string, string>>;
}

export interface CsvTable {
  /** As typed, for messages; "standard input" for "-". */
  readonly path: string;
  readonly columns: ReadonlySet<string>;
  readonly rows: readonly CsvRow[];
}

export interface CsvColumns {
  readonly required: readonly string[];
  readonly optional?: readonly string[];
}

/** More than any study has; a file that is longer is none. */
const MOST_BYTES = 200e6;

/**
 * Reads a CSV file with a header (RFC 4180; blank lines, spaces around cells, a byte order mark and semicolons or tabs in
 * place of the commas are no mistakes). The columns may come in any order, others beside them are left alone.
 * @param path "-" for standard input
 * @throws UsageError that names file, line and what to do
 */
export function readCsv(path: string, columns: CsvColumns): CsvTable {
  const name = path === "-" ? "standard input" : path;
  const text = textOf(path, name);
  const [header, ...rest] = parsed(name, text);
  if (!header)
    throw new UsageError(
      `${name} is empty: give a header, ${columns.required.join(",")}, and a line for each value.`,
    );
  const names = header.map((cell) => cell.toLowerCase());
  checkHeader(name, names, columns);
  if (rest.length === 0) throw new UsageError(`${name} has a header and no values: add a line for each.`);
  let lines: readonly number[] | undefined;
  const lineOf = (at: number) => {
    lines ??= linesOf(text);
    return lines[at + 1] ?? 0;
  };
  return {
    path: name,
    columns: new Set(names),
    rows: rest.map((record, at) => new Row(names, record, () => lineOf(at))),
  };
}

/** A hundred thousand of them are read, and one or none is asked for its line. */
class Row implements CsvRow {
  readonly #names: readonly string[];
  readonly #record: readonly string[];
  readonly #lineOf: () => number;

  constructor(names: readonly string[], record: readonly string[], lineOf: () => number) {
    this.#names = names;
    this.#record = record;
    this.#lineOf = lineOf;
  }

  get line(): number {
    return this.#lineOf();
  }

  get cells(): Readonly<Record<string, string>> {
    const cells: Record<string, string> = {};
    for (const [k, column] of this.#names.entries()) cells[column] = this.#record[k] ?? "";
    return cells;
  }
}

function parsed(name: string, text: string): string[][] {
  try {
    return parse(text, optionsFor(text));
  } catch (error) {
    throw new UsageError(`${name}: ${csvFault(error as CsvError)}`);
  }
}

/** Of the header and each row, in a text that can be read; asked for only to name one, since it takes longer than to read all. */
function linesOf(text: string): number[] {
  // Its types don't know what `info` makes of a record.
  const records = parse(text, { ...optionsFor(text), info: true }) as unknown as {
    readonly info: { readonly lines: number };
  }[];
  return records.map(({ info }) => info.lines);
}

function optionsFor(text: string) {
  return { bom: true, delimiter: delimiterOf(text), trim: true, skip_empty_lines: true };
}

/** What parts the names of the header: where decimals are written with a comma, spreadsheets take semicolons. */
function delimiterOf(text: string): "," | ";" | "\t" {
  const header = /[^\r\n\ufeff]+/.exec(text)?.[0] ?? "";
  if (header.includes(",")) return ",";
  return header.includes(";") ? ";" : header.includes("\t") ? "\t" : ",";
}

/** @throws UsageError where the cell is no finite decimal number, with file, line and column */
export function numberIn(table: CsvTable, row: CsvRow, column: string): number {
  const text = row.cells[column] ?? "";
  const value = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(text) ? Number(text) : Number.NaN;
  if (Number.isFinite(value)) return value;
  const hint = /^[+-]?\d+,\d+$/.test(text) ? "; write the decimal sign as a point" : "";
  throw new UsageError(
    `${table.path}, line ${row.line}: ${column} is ${shown(text)}, expected a number like 12.5${hint}.`,
  );
}

/** @throws UsageError where the cell is empty, with file, line and column */
export function nameIn(table: CsvTable, row: CsvRow, column: string): string {
  const text = row.cells[column] ?? "";
  if (text !== "") return text;
  throw new UsageError(`${table.path}, line ${row.line}: ${column} is empty.`);
}

function textOf(path: string, name: string): string {
  try {
    const bytes = readFileSync(path === "-" ? 0 : path);
    if (bytes.length > MOST_BYTES) throw new UsageError(`${name} is larger than any study's data.`);
    return bytes.toString("utf8");
  } catch (error) {
    if (error instanceof UsageError) throw error;
    const code = (error as NodeJS.ErrnoException).code ?? "";
    throw new UsageError(`${name}: ${SYSTEM_WORDS[code] ?? (error as Error).message}.`);
  }
}

const SYSTEM_WORDS: Readonly<Record<string, string>> = {
  ENOENT: "no such file",
  EISDIR: "is a folder, expected a CSV file",
  EACCES: "not allowed to read it",
};

function checkHeader(name: string, names: readonly string[], { required, optional = [] }: CsvColumns): void {
  const missing = required.filter((column) => !names.includes(column));
  if (missing.length > 0) {
    const may = optional.length > 0 ? ` (and may have ${optional.join(", ")})` : "";
    throw new UsageError(
      `${name}: its header has no ${missing.join(", ")}; the first line must name the columns ${required.join(",")}${may}.`,
    );
  }
  const twice = names.find((column, k) => column !== "" && names.indexOf(column) !== k);
  if (twice !== undefined) throw new UsageError(`${name}: its header names ${shown(twice)} twice.`);
}

function csvFault({ code, lines, message }: CsvError & { readonly lines?: number }): string {
  const where = lines === undefined ? "" : `line ${lines}: `;
  if (code === "CSV_RECORD_INCONSISTENT_FIELDS_LENGTH" || code === "CSV_RECORD_INCONSISTENT_COLUMNS")
    return `${where}it has more or fewer cells than the header; a decimal sign is a point, and a cell with a comma in it stands in quotation marks.`;
  if (code?.startsWith("CSV_QUOTE") || code?.includes("QUOTE"))
    return `${where}a quotation mark is not closed or stands inside a cell; write one that belongs to a name twice, and the whole name in quotation marks.`;
  return `${where}${message}`;
}

function shown(text: string): string {
  return text === "" ? "empty" : JSON.stringify(text.length > 40 ? `${text.slice(0, 40)}...` : text);
}
