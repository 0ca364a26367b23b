import { UsageError } from "../../explain.ts";
import { biasReport } from "../../quality/measurement-system/bias-report.ts";
import { biasStudy } from "../../quality/measurement-system/linearity.ts";
import { numberIn, readCsv } from "../../study-data/csv.ts";
import { presentStudy, type StudyOutput } from "../../study-page/present-study.ts";

export interface BiasArguments extends StudyOutput {
  readonly tolerance?: number | undefined;
  readonly rangeEstimate?: true | undefined;
  readonly unit?: string | undefined;
}

/** @throws UsageError, NoStudy with what to do */
export async function studyBias(csv: string | undefined, args: BiasArguments): Promise<0 | 1> {
  if (csv === undefined)
    throw new UsageError("Give a CSV file with the columns reference,value, or - for standard input.");
  const { tolerance, unit, rangeEstimate } = args;
  if (tolerance !== undefined && !(tolerance > 0))
    throw new UsageError("--tolerance: give a width above zero, upper limit less lower.");
  const table = readCsv(csv, { required: ["reference", "value"] });
  const readings = table.rows.map((row) => ({
    reference: numberIn(table, row, "reference"),
    value: numberIn(table, row, "value"),
  }));
  const report = biasReport(readings, biasStudy(readings), { unit, tolerance, rangeEstimate });
  return presentStudy(report, { ...args, source: table.path });
}
