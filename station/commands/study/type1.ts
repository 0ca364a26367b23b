import { formatNumber } from "../../../limits/print-quantity.ts";
import { UsageError } from "../../explain.ts";
import { type1 } from "../../quality/measurement-system/type1.ts";
import { type1Report } from "../../quality/measurement-system/type1-report.ts";
import { numberIn, readCsv } from "../../study-data/csv.ts";
import type { PlannedMeasurements } from "../../study-data/from-plan.ts";
import type { RecordsQuery } from "../../study-data/record-asked.ts";
import type { ReferenceReading, ReferenceReadings } from "../../study-data/reference-readings.ts";
import { presentStudy, type StudyOutput } from "../../study-page/present-study.ts";
import { measuredByPlan, type PlanArgument } from "./planned.ts";
import { isFromRecords, type ReferenceArguments, recordsQueryOf } from "./records-options.ts";

export interface Type1Arguments extends StudyOutput, ReferenceArguments, PlanArgument {
  readonly reference?: number | undefined;
  readonly tolerance?: number | undefined;
  readonly spread: "4" | "6";
  readonly share: number;
  readonly unit?: string | undefined;
}

/** @throws UsageError, NoStudy with what to do */
export async function studyType1(csv: string | undefined, args: Type1Arguments): Promise<0 | 1> {
  const { share, tolerance } = args;
  if (tolerance !== undefined && !(tolerance > 0))
    throw new UsageError("--tolerance: give a width above zero, upper limit less lower.");
  if (!(share > 0 && share <= 100))
    throw new UsageError("--share: give a number above 0 and at most 100, in per cent.");
  const planned = await measuredByPlan(csv, args, "type1");
  const found = planned
    ? readingsByPlan(planned, args)
    : isFromRecords(csv, args)
      ? await readingsOfRecords(args)
      : readingsOfFile(csv, args);
  const { values, unit, subject } = found;
  const spread = args.spread === "4" ? 4 : 6;
  const settings = { reference: found.reference, tolerance: found.tolerance, share, spread } as const;
  const report = type1Report(values, type1(values, settings), settings, { unit, subject });
  return presentStudy(
    { ...report, notes: [...report.notes, ...found.notes] },
    { ...args, source: found.source },
  );
}

interface FoundReadings {
  readonly values: readonly number[];
  readonly reference: number;
  readonly tolerance: number;
  readonly unit: string | undefined;
  readonly subject?: string;
  readonly source: string;
  readonly notes: readonly string[];
}

function readingsOfFile(csv: string | undefined, args: Type1Arguments): FoundReadings {
  const { reference, tolerance, unit } = args;
  if (csv === undefined)
    throw new UsageError(
      "Give a CSV file with the column value, or - for standard input; or take a piece's checks from --records.",
    );
  if (reference === undefined)
    throw new UsageError("Add --reference, the known value of the piece, in the unit of the values.");
  if (tolerance === undefined)
    throw new UsageError("Add --tolerance, upper limit less lower, in the unit of the values.");
  const table = readCsv(csv, { required: ["value"] });
  const values = table.rows.map((row) => numberIn(table, row, "value"));
  return { values, reference, tolerance, unit, source: table.path, notes: [] };
}

function readingsByPlan(
  { plan, measurements, isLeakRate, subject, source, notes }: PlannedMeasurements,
  args: Type1Arguments,
): FoundReadings {
  const { lower, upper, unit = "", characteristic: name = "" } = plan;
  const known = args.reference ?? plan.parts[0]?.reference;
  if (typeof known !== "number") throw new UsageError("Add --reference, the known value of the piece.");
  const { width, note } = widthOf(args, { lower, upper, isLeakRate, name, unit });
  const values = measurements.flatMap(({ value }) => (value === null ? [] : [value]));
  return {
    values,
    reference: known,
    tolerance: width,
    unit: args.unit ?? unit,
    ...{ subject, source },
    notes: [...notes, ...(note === null ? [] : [note])],
  };
}

/** The checks of one piece since its certificate says what it says now; tolerance by the limits of units unless given. */
async function readingsOfRecords(args: Type1Arguments): Promise<FoundReadings> {
  const { piece } = args;
  if (piece === undefined)
    throw new UsageError("Add --piece, the serial of the reference piece: a type-1 study is about one.");
  const { referenceReadings } = await import("../../study-data/reference-readings.ts");
  const query = await recordsQueryOf(args);
  const found = await referenceReadings({ ...query, piece });
  const { readings, isSeveralStations } = oneCertificate(found.readings);
  const certified = readings.at(-1)?.certified ?? 0;
  const { width, note } = await toleranceOf(args, query, found);
  const older = found.readings.length - readings.length;
  return {
    values: readings.map(({ value }) => value),
    reference: args.reference ?? certified,
    tolerance: width,
    unit: args.unit ?? found.unit,
    subject: found.subject,
    source: found.source,
    notes: [
      ...found.notes,
      ...(note === null ? [] : [note]),
      ...(older > 0 ? [`${older} older checks were left out: the piece had another certificate then.`] : []),
      ...(isSeveralStations
        ? ["The checks of several stations are taken together: --at takes those of one."]
        : []),
      NOT_PLANNED,
    ],
  };
}

const NOT_PLANNED =
  "Reference checks lie hours and days apart: warming, drift and several inspectors are in their spread, which a study made at one go has not.";

function oneCertificate(readings: readonly ReferenceReading[]) {
  const newest = readings.at(-1);
  const other = readings.findLastIndex(({ certified }) => certified !== newest?.certified);
  const kept = readings.slice(other + 1);
  return { readings: kept, isSeveralStations: new Set(kept.map(({ station }) => station)).size > 1 };
}

/** As units were last judged in the same records: a piece's own limits are those of its certificate. */
async function toleranceOf(
  args: Type1Arguments,
  query: RecordsQuery,
  { unit, isLeakRate, name }: ReferenceReadings,
): Promise<Width> {
  if (args.tolerance !== undefined) return { width: args.tolerance, note: null };
  const { unitLimits } = await import("../../study-data/from-records.ts");
  const { lower, upper } = await unitLimits(query, unit);
  if (lower === undefined && upper === undefined)
    throw new UsageError(
      `No unit was judged by ${name} in these records, so that there is no limit to take: add --tolerance, in ${unit}.`,
    );
  return widthOf(args, { lower, upper, isLeakRate, name, unit });
}

/** What the values are, and the limits of units. */
type JudgedAs = Pick<ReferenceReadings, "unit" | "isLeakRate" | "name"> & {
  readonly lower: number | undefined;
  readonly upper: number | undefined;
};

interface Width {
  readonly width: number;
  readonly note: string | null;
}

/** @throws UsageError where no width follows from the limits */
function widthOf({ tolerance }: Type1Arguments, { lower, upper, isLeakRate, name, unit }: JudgedAs): Width {
  if (tolerance !== undefined) return { width: tolerance, note: null };
  if (upper !== undefined && lower !== undefined)
    return { width: upper - lower, note: `The tolerance is that between the limits of ${name}.` };
  if (upper !== undefined && isLeakRate && upper > 0)
    return {
      width: upper,
      note: `The tolerance is from no leak to the upper limit, ${formatNumber(upper)} ${unit}: a leak has no lower one (common practice, no source). --tolerance sets another.`,
    };
  throw new UsageError(`${name} has one limit, and no width follows from it: add --tolerance, in ${unit}.`);
}
