import { UsageError } from "../../explain.ts";
import { compareGroups } from "../../quality/comparison/comparison.ts";
import { comparisonReport } from "../../quality/comparison/comparison-report.ts";
import { groupedByName } from "../../quality/grouped.ts";
import { nameIn, numberIn, readCsv } from "../../study-data/csv.ts";
import { presentStudy, type StudyOutput } from "../../study-page/present-study.ts";

export interface CompareArguments extends StudyOutput {
  readonly by: string;
  readonly lower?: number | undefined;
  readonly upper?: number | undefined;
  readonly unit?: string | undefined;
}

/** @throws UsageError, NoStudy with what to do */
export async function studyCompare(csv: string | undefined, args: CompareArguments): Promise<0 | 1> {
  if (csv === undefined)
    throw new UsageError("Give a CSV file with the columns group and value, or - for standard input.");
  const { lower, upper, unit } = args;
  const by = args.by.trim().toLowerCase();
  if (by === "" || by === "value") throw new UsageError("--by: give the column of the groups, like cavity.");
  const table = readCsv(csv, { required: [by, "value"] });
  const groups = groupedByName(
    table.rows.map((row) => nameIn(table, row, by)),
    table.rows.map((row) => numberIn(table, row, "value")),
  );
  const specification = { lower, upper };
  return presentStudy(
    comparisonReport(groups, specification, compareGroups(groups, specification), { unit, by }),
    args,
  );
}
