import { UsageError } from "../../explain.ts";
import { biasReport } from "../../quality/measurement-system/bias-report.ts";
import { biasStudy, type ReferredReading } from "../../quality/measurement-system/linearity.ts";
import { numberIn, readCsv } from "../../study-data/csv.ts";
import type { PlannedMeasurements } from "../../study-data/from-plan.ts";
import { presentStudy, type StudyOutput } from "../../study-page/present-study.ts";
import { measuredByPlan, type PlanArgument } from "./planned.ts";
import { isFromRecords, type ReferenceArguments, recordsQueryOf } from "./records-options.ts";

export interface BiasArguments extends StudyOutput, ReferenceArguments, PlanArgument {
  readonly tolerance?: number | undefined;
  readonly rangeEstimate?: true | undefined;
  readonly unit?: string | undefined;
}

/** @throws UsageError, NoStudy with what to do */
export async function studyBias(csv: string | undefined, args: BiasArguments): Promise<0 | 1> {
  const { tolerance, rangeEstimate } = args;
  if (tolerance !== undefined && !(tolerance > 0))
    throw new UsageError("--tolerance: give a width above zero, upper limit less lower.");
  const planned = await measuredByPlan(csv, args, "bias");
  const found = planned
    ? readingsByPlan(planned, args)
    : isFromRecords(csv, args)
      ? await readingsOfRecords(args)
      : readingsOfFile(csv, args);
  const { readings, unit, subject } = found;
  const report = biasReport(readings, biasStudy(readings), { unit, tolerance, rangeEstimate, subject });
  return presentStudy(
    { ...report, notes: [...report.notes, ...found.notes] },
    { ...args, source: found.source },
  );
}

interface FoundReadings {
  readonly readings: readonly ReferredReading[];
  readonly unit: string | undefined;
  readonly subject?: string;
  readonly source: string;
  readonly notes: readonly string[];
}

function readingsOfFile(csv: string | undefined, { unit }: BiasArguments): FoundReadings {
  if (csv === undefined)
    throw new UsageError(
      "Give a CSV file with the columns reference,value, or - for standard input; or take reference checks from --records.",
    );
  const table = readCsv(csv, { required: ["reference", "value"] });
  const readings = table.rows.map((row) => ({
    reference: numberIn(table, row, "reference"),
    value: numberIn(table, row, "value"),
  }));
  return { readings, unit, source: table.path, notes: [] };
}

function readingsByPlan(
  { plan, measurements, subject, source, notes }: PlannedMeasurements,
  { unit = plan.unit }: BiasArguments,
): FoundReadings {
  const readings = measurements.flatMap(({ reference, value }) =>
    typeof reference === "number" && value !== null ? [{ reference, value }] : [],
  );
  return { readings, unit, subject, source, notes };
}

/** Each check against what its certificate said that day. */
async function readingsOfRecords(args: BiasArguments): Promise<FoundReadings> {
  const { referenceReadings } = await import("../../study-data/reference-readings.ts");
  const found = await referenceReadings({ ...(await recordsQueryOf(args)), piece: args.piece });
  const pieces = [...new Set(found.readings.map(({ piece }) => piece))].sort();
  const isSeveral = new Set(found.readings.map(({ station }) => station)).size > 1;
  return {
    readings: found.readings.map(({ certified, value }) => ({ reference: certified, value })),
    unit: args.unit ?? found.unit,
    subject: found.subject,
    source: found.source,
    notes: [
      ...found.notes,
      `Pieces: ${pieces.map((piece) => `${piece} ${[...new Set(found.readings.flatMap((it) => (it.piece === piece ? [String(it.certified)] : [])))].join(" and ")}`).join(", ")}, as their certificates said. A certificate's value is uncertain itself: a small bias may be the piece's.`,
      ...(isSeveral ? ["The checks of several stations are taken together: --at takes those of one."] : []),
    ],
  };
}
