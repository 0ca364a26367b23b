import { UsageError } from "../../explain.ts";
import { stabilityOfSeveral } from "../../quality/control-chart/several-stability.ts";
import { type StabilityOptions, stabilityReport } from "../../quality/control-chart/stability-report.ts";
import { type CsvRow, type CsvTable, nameIn, numberIn, readCsv } from "../../study-data/csv.ts";
import { presentStudy, type StudyOutput } from "../../study-page/present-study.ts";
import { isFromRecords, type ReferenceArguments, recordsQueryOf } from "./records-options.ts";

export interface StabilityArguments extends StudyOutput, StabilityOptions, ReferenceArguments {}

/** @throws UsageError, NoStudy with what to do */
export async function studyStability(csv: string | undefined, args: StabilityArguments): Promise<0 | 1> {
  if (isFromRecords(csv, args)) return stabilityOfRecords(args);
  if (csv === undefined)
    throw new UsageError(
      "Give a CSV file with value[,reference][,time], or - for standard input; or take the checks from --records.",
    );
  const table = readCsv(csv, { required: ["value"], optional: ["reference", "time"] });
  const checks = table.rows.map((row) => ({
    value: numberIn(table, row, "value"),
    reference: table.columns.has("reference") ? numberIn(table, row, "reference") : null,
    time_s: table.columns.has("time") ? timeIn(table, row) : null,
  }));
  return presentStudy(stabilityReport(checks, args), { ...args, source: table.path });
}

/** Each reference piece at each station for itself; certified values and tolerances are the travellers' unless given. */
async function stabilityOfRecords(args: StabilityArguments): Promise<0 | 1> {
  const { referenceReadings } = await import("../../study-data/reference-readings.ts");
  const found = await referenceReadings({ ...(await recordsQueryOf(args)), piece: args.piece });
  const report = stabilityOfSeveral(
    found.readings.map(({ value, certified, tolerance, at, piece, station }) => ({
      value,
      reference: certified,
      tolerance,
      time_s: Date.parse(at) / 1000,
      piece,
      station,
    })),
    { ...args, unit: args.unit ?? found.unit, of: args.of ?? found.subject },
  );
  return presentStudy(
    { ...report, notes: [...report.notes, ...found.notes] },
    { ...args, source: found.source },
  );
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
