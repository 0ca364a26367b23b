import { UsageError } from "../../explain.ts";
import { crossedStudy } from "../../quality/measurement-system/crossed-study.ts";
import { repeatability, type Tolerance } from "../../quality/measurement-system/repeatability.ts";
import { repeatabilityReport } from "../../quality/measurement-system/repeatability-report.ts";
import { nameIn, numberIn, readCsv } from "../../study-data/csv.ts";
import type { PlannedMeasurements } from "../../study-data/from-plan.ts";
import { presentStudy, type StudyOutput } from "../../study-page/present-study.ts";
import { gaugeReadingsFromRecords, type RecordedReadings } from "./gauge-readings.ts";
import { measuredByPlan, type PlanArgument } from "./planned.ts";
import { isFromRecords, type RecordsArguments } from "./records-options.ts";

export interface RepeatabilityArguments extends StudyOutput, RecordsArguments, PlanArgument {
  readonly method: "anova" | "range";
  readonly interaction: "auto" | "keep" | "pool";
  readonly poolAbove: number;
  readonly tolerance?: number | undefined;
  readonly lower?: number | undefined;
  readonly upper?: number | undefined;
  readonly completePartsOnly?: true | undefined;
  readonly unit?: string | undefined;
}

/** @throws UsageError, NoStudy with what to do */
export async function studyGaugeReadings(
  csv: string | undefined,
  args: RepeatabilityArguments,
): Promise<0 | 1> {
  if (args.method === "range" && args.interaction !== "auto")
    throw new UsageError(
      "--interaction goes with --method anova: the range method knows no part x appraiser.",
    );
  const completePartsOnly = args.completePartsOnly === true;
  const planned = await measuredByPlan(csv, args, "repeatability", completePartsOnly);
  const tolerance =
    toleranceOf(args) ?? (planned ? toleranceOf({ ...args, ...limitsOf(planned) }) : undefined);
  const from = planned
    ? gaugeReadingsByPlan(planned)
    : isFromRecords(csv, args)
      ? await gaugeReadingsFromRecords(args)
      : gaugeReadings(csv);
  const study = crossedStudy(from.readings, { completePartsOnly });
  const { method, interaction, poolAbove } = args;
  const unit = args.unit ?? from.unit;
  const found = repeatability(study, {
    method,
    rule: { interaction, poolAbove },
    ...(tolerance ? { tolerance } : {}),
  });
  const report = repeatabilityReport(study, found, { subject: from.subject, unit, tolerance, poolAbove });
  const notes = [...report.notes, ...from.notes];
  return presentStudy({ ...report, notes }, { ...args, source: from.source });
}

function limitsOf({ plan: { lower, upper } }: PlannedMeasurements) {
  return { lower, upper };
}

function gaugeReadingsByPlan({
  measurements,
  plan,
  subject,
  source,
  notes,
}: PlannedMeasurements): FoundReadings {
  return {
    readings: measurements.flatMap((one) => (one.value === null ? [] : [{ ...one, value: one.value }])),
    ...{ subject, source, notes },
    ...(plan.unit === undefined ? {} : { unit: plan.unit }),
  };
}

type FoundReadings = Pick<RecordedReadings, "readings" | "source" | "notes"> & {
  readonly unit?: string;
  readonly subject?: string;
};

function gaugeReadings(csv: string | undefined): FoundReadings {
  if (csv === undefined) {
    throw new UsageError(
      "Give a CSV file with the columns part,appraiser,trial,value, or - for standard input; or take them from --records.",
    );
  }
  const table = readCsv(csv, { required: ["part", "appraiser", "trial", "value"] });
  const readings = table.rows.map((row) => ({
    part: nameIn(table, row, "part"),
    appraiser: nameIn(table, row, "appraiser"),
    trial: nameIn(table, row, "trial"),
    value: numberIn(table, row, "value"),
    get place() {
      return `${table.path}, line ${row.line}`;
    },
  }));
  return { readings, source: table.path, notes: [] };
}

function toleranceOf({ tolerance, lower, upper }: RepeatabilityArguments): Tolerance | undefined {
  if (tolerance !== undefined) {
    if (tolerance > 0) return { width: tolerance };
    throw new UsageError("--tolerance: give a width above zero, upper limit less lower.");
  }
  if (lower === undefined && upper === undefined) return undefined;
  if (lower !== undefined && upper !== undefined && lower >= upper)
    throw new UsageError("--lower must be below --upper.");
  return { lower, upper };
}
