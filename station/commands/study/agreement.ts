import { UsageError } from "../../explain.ts";
import { agreement } from "../../quality/measurement-system/agreement.ts";
import { agreementReport } from "../../quality/measurement-system/agreement-report.ts";
import { type Rating, ratedUnits } from "../../quality/measurement-system/rated-units.ts";
import { type CsvTable, nameIn, readCsv } from "../../study-data/csv.ts";
import { presentStudy, type StudyOutput } from "../../study-page/present-study.ts";

export interface AgreementArguments extends StudyOutput {
  readonly bad: readonly string[];
}

/** @throws UsageError, NoStudy with what to do */
export async function studyAgreement(csv: string | undefined, args: AgreementArguments): Promise<0 | 1> {
  if (csv === undefined) {
    throw new UsageError(
      "Give a CSV file with the columns unit,appraiser,trial,rating and perhaps reference, or - for standard input.",
    );
  }
  const table = readCsv(csv, {
    required: ["unit", "appraiser", "trial", "rating"],
    optional: ["reference"],
  });
  const rated = ratedUnits(ratingsIn(table));
  return presentStudy(agreementReport(rated, agreement(rated, args.bad)), { ...args, source: table.path });
}

function ratingsIn(table: CsvTable): Rating[] {
  return table.rows.map((row) => ({
    unit: nameIn(table, row, "unit"),
    appraiser: nameIn(table, row, "appraiser"),
    trial: nameIn(table, row, "trial"),
    rating: nameIn(table, row, "rating"),
    reference: row.cells.reference || undefined,
    place: `${table.path}, line ${row.line}`,
  }));
}
