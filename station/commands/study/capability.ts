import { UsageError } from "../../explain.ts";
import { capability } from "../../quality/capability/capability.ts";
import { capabilityReport } from "../../quality/capability/capability-report.ts";
import type { FamilyName } from "../../quality/distributions/distribution.ts";
import { nameIn, numberIn, readCsv } from "../../study-data/csv.ts";
import { presentStudy, type StudyOutput } from "../../study-page/present-study.ts";
import { isFromRecords, type RecordsArguments, recordsQueryOf } from "./records-options.ts";

export interface CapabilityArguments extends StudyOutput, RecordsArguments {
  readonly lower?: number | undefined;
  readonly upper?: number | undefined;
  readonly distribution: FamilyName | "auto";
  readonly within?: "range" | "pooled" | undefined;
  readonly goal: number;
  readonly unit?: string | undefined;
}

/** @throws UsageError, NoStudy with what to do */
export async function studyCapability(csv: string | undefined, args: CapabilityArguments): Promise<0 | 1> {
  if (isFromRecords(csv, args)) return capabilityOfRecords(args);
  if (csv === undefined)
    throw new UsageError("Give a CSV file with the column value, or - for standard input.");
  const { lower, upper, distribution, within, goal, unit } = args;
  if (!(goal > 1 && goal <= 10))
    throw new UsageError("--goal: give an index above 1 and at most 10, like 1.67.");
  const table = readCsv(csv, { required: ["value"], optional: ["subgroup"] });
  const hasSubgroups = table.columns.has("subgroup");
  if (within && !hasSubgroups)
    throw new UsageError(`--within is of subgroups, and ${table.path} has no column subgroup.`);
  const data = {
    values: table.rows.map((row) => numberIn(table, row, "value")),
    subgroups: hasSubgroups ? table.rows.map((row) => nameIn(table, row, "subgroup")) : undefined,
  };
  const settings = { lower, upper, distribution, within: within ?? null };
  return presentStudy(capabilityReport(data, settings, capability(data, settings), { unit, goal }), {
    ...args,
    source: table.path,
  });
}

/** Limits are the travellers' unless given; subgroups are what `--by` asks for. */
async function capabilityOfRecords(args: CapabilityArguments): Promise<0 | 1> {
  const { distribution, within, goal } = args;
  if (!(goal > 1 && goal <= 10))
    throw new UsageError("--goal: give an index above 1 and at most 10, like 1.67.");
  if (within && args.by === undefined)
    throw new UsageError("--within is of subgroups: add --by, like --by day.");
  const { recordedValues } = await import("../../study-data/from-records.ts");
  const found = await recordedValues(await recordsQueryOf(args));
  const data = {
    values: found.values,
    subgroups: args.by === undefined ? undefined : found.groups,
  };
  const settings = {
    lower: args.lower ?? found.lower,
    upper: args.upper ?? found.upper,
    distribution,
    within: within ?? null,
  };
  const unit = args.unit ?? found.unit;
  const report = capabilityReport(data, settings, capability(data, settings), {
    subject: found.subject,
    unit,
    goal,
  });
  return presentStudy(
    { ...report, notes: [...report.notes, ...found.notes] },
    { ...args, source: found.source },
  );
}
