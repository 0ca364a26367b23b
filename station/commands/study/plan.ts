import { randomInt } from "node:crypto";
import { basename, extname } from "node:path";
import type { ModelLimits } from "../../../limits/model.ts";
import { quoted } from "../../../limits/quantity.ts";
import { UsageError } from "../../explain.ts";
import { writeStudyPlan } from "../../guided-study/plan-file.ts";
import { type PlanAsked, planStudy } from "../../guided-study/plan-study.ts";
import { StudyName, type StudyPlan } from "../../guided-study/study-plan.ts";
import { forShell } from "../../guided-study/study-setup.ts";
import { peopleFile, personNamed } from "../../people/people-file.ts";
import type { StationFile } from "../../station-file.ts";
import { modelOfStation } from "./model-of-station.ts";

export interface PlanArguments extends Omit<PlanAsked, "name" | "seed" | "characteristic" | "trials"> {
  readonly station: string;
  readonly limits?: undefined;
  readonly model: string;
  readonly characteristic?: string | undefined;
  readonly trials?: number | undefined;
  readonly seed?: number | undefined;
  readonly name?: string | undefined;
  readonly out: string;
  readonly draft?: true | undefined;
  readonly json?: true | undefined;
}

const SEEDS = 1_000_000_000;

/** @throws UsageError with what to do; FileProblems for mistakes in the station's files */
export async function writePlan(args: PlanArguments): Promise<void> {
  const { limits, station } = await modelOfStation(args);
  const plan = planStudy(
    {
      ...args,
      name: nameOf(args),
      characteristic: args.characteristic,
      trials: args.trials,
      seed: args.seed ?? randomInt(SEEDS),
    },
    {
      station: station.name,
      limits,
      limitFile: basename(limits.source.path),
      pieces: station.referenceCheck?.pieces ?? [],
      made_ms: Date.now(),
    },
  );
  await requireKnown(plan, station);
  writeStudyPlan(args.out, plan);
  const { name, study, sha256, seed, trials, runs } = plan;
  const next = `drumtight run --station ${forShell(args.station)} --study ${forShell(args.out)}${args.draft ? " --draft" : ""}`;
  if (args.json) {
    const told = { plan: args.out, name, study, sha256, seed, trials, runs: runs.length, next };
    process.stdout.write(`${JSON.stringify(told)}\n`);
    return;
  }
  process.stdout.write(
    `${[...summary(plan), ...earlyNote(plan, limits, station), `Plan in ${args.out}. Next: ${next}`].join("\n")}\n`,
  );
}

function nameOf({ name, out }: PlanArguments): string {
  const given = name ?? basename(out, extname(out));
  const read = StudyName.safeParse(given);
  if (read.success) return read.data;
  throw new UsageError(
    `--name: found ${quoted(given)}, expected ${read.error.issues[0]?.message ?? "a name like RR-1"}.`,
  );
}

/** Nobody else could sign in and measure. */
async function requireKnown({ appraisers }: StudyPlan, { signIn }: StationFile): Promise<void> {
  if (signIn.kind !== "people") return;
  const people = await peopleFile(signIn.path).read();
  for (const name of appraisers) {
    const person = people && personNamed(people, name);
    if (person && !person.disabled) continue;
    throw new UsageError(
      `--appraisers: ${name} can't sign in at this station: add people with "drumtight people add".`,
    );
  }
}

/** A value that ends early is as good as its verdict needs, and no better. */
function earlyNote(
  { characteristic, parts }: StudyPlan,
  { characteristics, steps }: ModelLimits,
  { referenceCheck }: Pick<StationFile, "referenceCheck">,
): string[] {
  const pieces = new Set(referenceCheck?.pieces.map(({ serial }) => serial));
  // Reference pieces are always measured to the end.
  if (parts.every(({ serial }) => pieces.has(serial))) return [];
  const step = characteristics.find(({ name }) => name === characteristic)?.step;
  const isEarly = steps.some((one) => one.name === step && one.kind === "leak" && one.earlyVerdict !== null);
  if (!isEarly) return [];
  return [
    `Step ${step} may end early, far from the limit, and such values scatter more. To study whole measuring times, set early_verdict to "off" in a draft of the limit file, and plan and run with --draft.`,
  ];
}

function summary({
  name,
  study,
  parts,
  appraisers,
  trials,
  runs,
  seed,
  model,
  characteristic,
}: StudyPlan): string[] {
  const many = (count: number, one: string) => `${count} ${one}${count === 1 ? "" : "s"}`;
  const what = characteristic === undefined ? "verdicts" : characteristic;
  const few =
    study === "repeatability" && (parts.length < 10 || appraisers.length < 2)
      ? ["Ten parts and two or three appraisers are usual (AIAG, Measurement Systems Analysis, 4th ed.)."]
      : [];
  return [
    `Study ${name}: ${study}, ${what} of ${model}: ${many(parts.length, "part")}, ${many(appraisers.length, "appraiser")}, ${many(trials, "trial")}: ${runs.length} measurements.`,
    `The order is drawn from seed ${seed}, anew in each trial.`,
    ...few,
  ];
}
