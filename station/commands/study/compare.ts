import { UsageError } from "../../explain.ts";
import { compareGroups } from "../../quality/comparison/comparison.ts";
import { comparisonReport } from "../../quality/comparison/comparison-report.ts";
import { groupedByName } from "../../quality/grouped.ts";
import { nameIn, numberIn, readCsv } from "../../study-data/csv.ts";
import { presentStudy, type StudyOutput } from "../../study-page/present-study.ts";
import { isFromRecords, type RecordsArguments, recordsQueryOf } from "./records-options.ts";

export interface CompareArguments extends StudyOutput, RecordsArguments {
  readonly lower?: number | undefined;
  readonly upper?: number | undefined;
  readonly unit?: string | undefined;
}

/** @throws UsageError, NoStudy with what to do */
export async function studyCompare(csv: string | undefined, args: CompareArguments): Promise<0 | 1> {
  if (isFromRecords(csv, args)) return compareRecords(args);
  if (csv === undefined)
    throw new UsageError("Give a CSV file with the columns group and value, or - for standard input.");
  const { lower, upper, unit } = args;
  const by = (args.by ?? "group").trim().toLowerCase();
  if (by === "" || by === "value") throw new UsageError("--by: give the column of the groups, like cavity.");
  const table = readCsv(csv, { required: [by, "value"] });
  const groups = groupedByName(
    table.rows.map((row) => nameIn(table, row, by)),
    table.rows.map((row) => numberIn(table, row, "value")),
  );
  const specification = { lower, upper };
  return presentStudy(
    comparisonReport(groups, specification, compareGroups(groups, specification), { unit, by }),
    { ...args, source: table.path },
  );
}

/** Limits are the travellers' unless given. */
async function compareRecords(args: CompareArguments): Promise<0 | 1> {
  const { by } = args;
  if (by === undefined)
    throw new UsageError("Add --by, what to compare: station, shift, day or a tracked part like tub_cavity.");
  const { valuesOfModels } = await import("../../study-data/several-models.ts");
  const found = await valuesOfModels(await recordsQueryOf(args));
  const groups = groupedByName(found.groups, found.values);
  const specification = { lower: args.lower ?? found.lower, upper: args.upper ?? found.upper };
  const unit = args.unit ?? found.unit;
  const report = comparisonReport(groups, specification, compareGroups(groups, specification), {
    subject: found.subject,
    unit,
    by: found.by ?? by,
  });
  return presentStudy(
    { ...report, notes: [...report.notes, ...failedNotes(found), ...found.notes] },
    { ...args, source: found.source },
  );
}

/** A gross leak is hundreds of times what a bad cavity adds. */
function failedNotes({ failed, values }: { readonly failed: number; readonly values: readonly number[] }) {
  return failed === 0
    ? []
    : [
        `${failed} of ${values.length} values are of units that failed: a few gross leaks hide smaller differences between groups. --passed leaves them out.`,
      ];
}
