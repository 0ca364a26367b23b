import { UsageError } from "../../explain.ts";
import { type1 } from "../../quality/measurement-system/type1.ts";
import { type1Report } from "../../quality/measurement-system/type1-report.ts";
import { numberIn, readCsv } from "../../study-data/csv.ts";
import { presentStudy, type StudyOutput } from "../../study-page/present-study.ts";

export interface Type1Arguments extends StudyOutput {
  readonly reference: number;
  readonly tolerance: number;
  readonly spread: "4" | "6";
  readonly share: number;
  readonly unit?: string | undefined;
}

/** @throws UsageError, NoStudy with what to do */
export async function studyType1(csv: string | undefined, args: Type1Arguments): Promise<0 | 1> {
  if (csv === undefined)
    throw new UsageError("Give a CSV file with the column value, or - for standard input.");
  const { reference, tolerance, share, unit } = args;
  if (!(tolerance > 0)) throw new UsageError("--tolerance: give a width above zero, upper limit less lower.");
  if (!(share > 0 && share <= 100))
    throw new UsageError("--share: give a number above 0 and at most 100, in per cent.");
  const table = readCsv(csv, { required: ["value"] });
  const values = table.rows.map((row) => numberIn(table, row, "value"));
  const settings = { reference, tolerance, share, spread: args.spread === "4" ? 4 : 6 } as const;
  const report = type1Report(values, type1(values, settings), settings, { unit });
  return presentStudy(report, { ...args, source: table.path });
}
