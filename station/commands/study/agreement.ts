import { UsageError } from "../../explain.ts";
import { agreement } from "../../quality/measurement-system/agreement.ts";
import { agreementReport } from "../../quality/measurement-system/agreement-report.ts";
import { type Rating, ratedUnits } from "../../quality/measurement-system/rated-units.ts";
import { type CsvTable, nameIn, readCsv } from "../../study-data/csv.ts";
import type { PlannedMeasurements } from "../../study-data/from-plan.ts";
import { presentStudy, type StudyOutput } from "../../study-page/present-study.ts";
import { measuredByPlan, type PlanArgument } from "./planned.ts";
import { isFromRecords, type RecordsArguments, testsQueryOf } from "./records-options.ts";

export interface AgreementArguments extends StudyOutput, RecordsArguments, PlanArgument {
  readonly bad: readonly string[];
  readonly appraiser: "inspector" | "station";
}

/** @throws UsageError, NoStudy with what to do */
export async function studyAgreement(csv: string | undefined, args: AgreementArguments): Promise<0 | 1> {
  const planned = await measuredByPlan(csv, args, "agreement");
  if (planned) return agreementByPlan(planned, args);
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

/** The station's verdict is what was said of the piece. */
async function agreementByPlan(
  { measurements, subject, source, notes }: PlannedMeasurements,
  args: AgreementArguments,
): Promise<0 | 1> {
  const rated = ratedUnits(
    measurements.map(({ part, appraiser, trial, verdict, reference, place }) => ({
      ...{ unit: part, appraiser, trial, place },
      rating: verdict,
      reference: reference === "pass" || reference === "fail" ? reference : undefined,
    })),
  );
  const report = agreementReport(rated, agreement(rated, args.bad), { subject });
  return presentStudy({ ...report, notes: [...report.notes, ...notes] }, { ...args, source });
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
    get place() {
      return `${table.path}, line ${row.line}`;
    },
  }));
}
