import { UsageError } from "../../explain.ts";
import type { PlannedStudy } from "../../guided-study/planned-studies.ts";
import type { PlannedMeasurements } from "../../study-data/from-plan.ts";
import type { RecordsArguments, ReferenceArguments } from "./records-options.ts";

/** What `planOption` adds to a study that may be planned and measured at the station. */
export interface PlanArgument {
  readonly study?: string | undefined;
}

/** Of a study whose pieces the station asked for. */
export const PLAN_OPTION = [
  "--study <plan>",
  "take the values that a station measured by this plan",
] as const;

/** Options that a plan answers by itself. */
const ANSWERED = [
  "model",
  "characteristic",
  "from",
  "to",
  "shift",
  "at",
  "piece",
  "passed",
  "part",
  "allAttempts",
  "drafts",
  "by",
] as const;

/**
 * @param mayBeIncomplete what is measured so far will do
 * @returns null where no plan is given
 * @throws UsageError, RecordError with what to do
 */
export async function measuredByPlan(
  csv: string | undefined,
  args: RecordsArguments & ReferenceArguments & PlanArgument,
  study: PlannedStudy,
  mayBeIncomplete = false,
): Promise<PlannedMeasurements | null> {
  if (args.study === undefined) return null;
  if (csv !== undefined) throw new UsageError("Give a CSV file or --study, not both.");
  const answered = ANSWERED.find((option) => args[option] !== undefined);
  if (answered !== undefined) {
    const option = answered.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`);
    throw new UsageError(`--${option} does not go with --study: the plan says what is measured.`);
  }
  const { readStationFileAlone } = await import("../../load-station.ts");
  const { plannedMeasurements } = await import("../../study-data/from-plan.ts");
  const station = args.station === undefined ? undefined : readStationFileAlone(args.station);
  const folder = args.records ?? station?.recordsFolder ?? "records";
  return plannedMeasurements({ path: args.study, study, folder, mayBeIncomplete });
}
