import { UsageError } from "../../explain.ts";
import { type StabilityOptions, stabilityReport } from "../../quality/control-chart/stability-report.ts";
import { type CsvRow, type CsvTable, nameIn, numberIn, readCsv } from "../../study-data/csv.ts";
import { presentStudy, type StudyOutput } from "../../study-page/present-study.ts";

export interface StabilityArguments extends StudyOutput, StabilityOptions {}

/** @throws UsageError, NoStudy with what to do */
export async function studyStability(csv: string | undefined, args: StabilityArguments): Promise<0 | 1> {
  if (csv === undefined)
    throw new UsageError("Give a CSV file with value[,reference][,time], or - for standard input.");
  const table = readCsv(csv, { required: ["value"], optional: ["reference", "time"] });
  const checks = table.rows.map((row) => ({
    value: numberIn(table, row, "value"),
    reference: table.columns.has("reference") ? numberIn(table, row, "reference") : null,
    time_s: table.columns.has("time") ? timeIn(table, row) : null,
  }));
  return presentStudy(stabilityReport(checks, args), args);
}

const MOMENT = /^(\d{4}-\d{2}-\d{2})(?:[T ](\d{2}:\d{2}(?::\d{2}(?:\.\d{1,9})?)?)\s?(Z|[+-]\d{2}:\d{2})?)?$/;

function timeIn(table: CsvTable, row: CsvRow): number {
  const text = nameIn(table, row, "time");
  const [, day, clock = "00:00", zone = "Z"] = MOMENT.exec(text) ?? [];
  const time_s = Date.parse(`${day}T${clock}${zone}`) / 1000;
  // 31 February would be taken for 3 March.
  const isDay =
    day !== undefined && Number.isFinite(Date.parse(day)) && new Date(day).toISOString().startsWith(day);
  if (isDay && Number.isFinite(time_s)) return time_s;
  throw new UsageError(
    `${table.path}, line ${row.line}: time is ${JSON.stringify(text.slice(0, 40))}, expected a date or moment like 2026-01-05 or 2026-01-05T06:00Z.`,
  );
}
