import { DIMENSION_OF } from "../../limits/measurand.ts";
import { convert } from "../../limits/quantity.ts";
import { UsageError } from "../explain.ts";
import { readStudyPlan } from "../guided-study/plan-file.ts";
import type { PlannedStudy } from "../guided-study/planned-studies.ts";
import { studyTraveller } from "../guided-study/study-measurements.ts";
import type { StudyPlan } from "../guided-study/study-plan.ts";
import { forShell } from "../guided-study/study-setup.ts";
import { travellersOf } from "../records/model-travellers.ts";

/** One measurement of a planned study. */
export interface PlannedMeasurement {
  readonly part: string;
  readonly appraiser: string;
  readonly trial: string;
  /** In the plan's unit; null where verdicts are compared. */
  readonly value: number | null;
  readonly verdict: "pass" | "fail";
  readonly reference: StudyPlan["parts"][number]["reference"];
  readonly place: string;
}

export interface PlannedMeasurements {
  readonly plan: StudyPlan;
  readonly isLeakRate: boolean;
  /** In the order in which they were measured. */
  readonly measurements: readonly PlannedMeasurement[];
  readonly subject: string;
  readonly source: string;
  readonly notes: readonly string[];
}

export interface PlanQuery {
  /** The plan file. */
  readonly path: string;
  readonly study: PlannedStudy;
  readonly folder: string;
  /** What is measured so far will do. */
  readonly mayBeIncomplete: boolean;
}

/**
 * A planned study's measurements from the travellers of its records folder; nothing is written, the station may be measuring.
 * @throws UsageError where the plan is of another study, or not all of it has been measured; RecordError where the folder
 * can't be read
 */
export async function plannedMeasurements(query: PlanQuery): Promise<PlannedMeasurements> {
  const plan = readStudyPlan(query.path);
  if (plan.study !== query.study) {
    throw new UsageError(
      `${query.path} plans a study of ${plan.study}: evaluate it with drumtight study ${plan.study}.`,
    );
  }
  const found = new Map<number, PlannedMeasurement>();
  let [twice, nothing, early, onDraft, simulated, broken, otherPlans, rough] = [0, 0, 0, 0, 0, 0, 0, 0];
  let otherPlan: string | undefined;
  let isLeakRate = false;
  const otherPeople = new Set<string>();
  for await (const it of travellersOf(query.folder, { model: plan.model })) {
    if (it.kind === "broken") {
      broken++;
      continue;
    }
    const { traveller, path } = it;
    const of = studyTraveller(plan, traveller);
    if (of.kind === "other plan") {
      otherPlan ??= path;
      otherPlans++;
      continue;
    }
    if (of.kind === "not planned") {
      throw new UsageError(
        `${path} says it is of study ${plan.name}, and the plan has no such run: have the quality engineer look at it.`,
      );
    }
    if (of.kind === "nothing measured") nothing++;
    if (of.kind !== "measured") continue;
    if (found.has(of.run)) {
      twice++;
      continue;
    }
    const { appraiser = "", trial = 0 } = traveller.study ?? {};
    const { measured } = of;
    if (measured?.measurand === "leak_rate") isLeakRate = true;
    if (measured?.how?.looks?.early) early++;
    if (measured?.uncertainty === null) rough++;
    if (traveller.limit_file.approved_by === null) onDraft++;
    if (traveller.station.simulated) simulated++;
    if (traveller.who.inspector === null) otherPeople.add(appraiser);
    found.set(of.run, {
      part: traveller.serial,
      appraiser,
      trial: String(trial),
      value: measured && inUnit(measured, plan.unit ?? measured.unit),
      verdict: traveller.verdict === "pass" ? "pass" : "fail",
      reference: plan.parts.find(({ serial }) => serial === traveller.serial)?.reference,
      place: path,
    });
  }
  if (found.size === 0 && otherPlan !== undefined) {
    throw new UsageError(
      `Study ${plan.name} was measured with another plan in ${query.folder} (${otherPlan}): give the plan it was measured with, or the records of this one.`,
    );
  }
  const all = plan.runs.length;
  const measurements = [...found].sort(([a], [b]) => a - b).map(([, one]) => one);
  if (found.size < all && !(query.mayBeIncomplete && found.size > 0)) {
    const unreadable =
      broken > 0 ? ` ${count(broken, "traveller")} there can't be trusted: run drumtight audit.` : "";
    throw new UsageError(
      `Study ${plan.name} has ${found.size} of its ${all} measurements in ${query.folder}.${unreadable} Go on with drumtight run --station FILE --study ${forShell(query.path)}; it asks for the rest.`,
    );
  }
  const what = plan.characteristic?.replaceAll("_", " ") ?? "verdicts";
  return {
    plan,
    isLeakRate,
    measurements,
    subject: `${what} of ${plan.model}, study ${plan.name}`,
    source: `study ${plan.name} in ${query.folder}, plan ${plan.sha256.slice(0, 12)}`,
    notes: [
      `Measured at ${plan.station} with ${plan.limit_file.path}, revision ${plan.limit_file.revision}, in an order drawn from seed ${plan.seed}.`,
      ...(found.size < all ? [`${found.size} of ${all} planned measurements are there.`] : []),
      ...(nothing > 0 ? [`${count(nothing, "attempt")} without a valid value had to be repeated.`] : []),
      ...(twice > 0 ? [`${count(twice, "measurement")} left out, of runs that had one already.`] : []),
      ...(otherPlans > 0
        ? [`${count(otherPlans, "attempt")} for another study of this name, by another plan, left out.`]
        : []),
      ...(broken > 0
        ? [`${count(broken, "traveller")} not as recorded and left out. Tell the quality engineer.`]
        : []),
      ...(early > 0
        ? [
            `${early} of ${found.size} values come from early verdicts, which scatter more than those of a whole measuring time, the more the further from the limit.`,
          ]
        : []),
      ...(rough > 0
        ? [
            `${rough} of ${found.size} values are rough estimates of gross leaks and no measurements: they make the gauge look worse than it is. Plan the study anew without such pieces.`,
          ]
        : []),
      ...(onDraft > 0 ? [`${onDraft} of ${found.size} were measured on draft limits.`] : []),
      ...(otherPeople.size > 0
        ? ["Nobody signs in at this station: that the appraisers measured themselves is their word."]
        : []),
      ...(simulated > 0
        ? [`SIMULATED: ${simulated} of ${found.size} values are of simulated stations.`]
        : []),
    ],
  };
}

function inUnit(
  { value, unit, measurand }: { value: number; unit: string; measurand: keyof typeof DIMENSION_OF },
  wanted: string,
): number {
  return unit === wanted ? value : convert(value, unit, wanted, DIMENSION_OF[measurand]);
}

function count(number: number, what: string): string {
  return `${number} ${what}${number === 1 ? " is" : "s are"}`.replace(
    / (is|are)$/,
    what === "attempt" ? "" : " $1",
  );
}
