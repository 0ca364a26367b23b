import { UsageError } from "../../explain.ts";
import { agreement } from "../../quality/measurement-system/agreement.ts";
import { agreementReport } from "../../quality/measurement-system/agreement-report.ts";
import { type Rating, ratedUnits } from "../../quality/measurement-system/rated-units.ts";
import { type CsvTable, nameIn, readCsv } from "../../study-data/csv.ts";
import { presentStudy, type StudyOutput } from "../../study-page/present-study.ts";
import { isFromRecords, type RecordsArguments, testsQueryOf } from "./records-options.ts";

export interface AgreementArguments extends StudyOutput, RecordsArguments {
  readonly bad: readonly string[];
  readonly appraiser: "inspector" | "station";
}

/** @throws UsageError, NoStudy with what to do */
export async function studyAgreement(csv: string | undefined, args: AgreementArguments): Promise<0 | 1> {
  if (isFromRecords(csv, args)) return agreementOfRecords(args);
  if (csv === undefined) {
    throw new UsageError(
      "Give a CSV file with the columns unit,appraiser,trial,rating and perhaps reference, or - for standard input; or take verdicts from --records.",
    );
  }
  const table = readCsv(csv, {
    required: ["unit", "appraiser", "trial", "rating"],
    optional: ["reference"],
  });
  const rated = ratedUnits(ratingsIn(table));
  return presentStudy(agreementReport(rated, agreement(rated, args.bad)), { ...args, source: table.path });
}

/** The station's verdicts on units that were tested more than once. */
async function agreementOfRecords(args: AgreementArguments): Promise<0 | 1> {
  const { recordedRatings } = await import("../../study-data/recorded-ratings.ts");
  const query = await testsQueryOf(args);
  const { characteristic, appraiser } = args;
  const found = await recordedRatings({ ...query, characteristic, appraiser });
  const rated = ratedUnits(found.ratings);
  const report = agreementReport(rated, agreement(rated, args.bad), { subject: found.subject });
  return presentStudy(
    { ...report, notes: [...report.notes, ...found.notes] },
    { ...args, source: found.source },
  );
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
