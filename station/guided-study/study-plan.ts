import { z } from "zod";
import { personName } from "../people/person-name.ts";
import { canonicalText, sha256Hex } from "../records/chain.ts";
import { Instant, Serial, Sha256Hex, Text } from "../records/record-words.ts";
import { PLANNED_STUDIES } from "./planned-studies.ts";

const STUDY_PLAN_FORMAT = "drumtight/study-plan/1";

/** Nobody puts pieces on so often. */
export const MOST_RUNS = 2000;

const Name = z.string().min(1).max(200);

/** A study's name, as screens and travellers have it. */
export const StudyName = z
  .string()
  .regex(/^[\p{L}\p{N}][\p{L}\p{N} ._-]{0,38}[\p{L}\p{N}]$|^[\p{L}\p{N}]$/u, {
    error: () => "a name of up to 40 letters, digits, blanks, points and hyphens, like RR-1",
  });

const Content = z.strictObject({
  format: z.literal(STUDY_PLAN_FORMAT, {
    error: () => `${STUDY_PLAN_FORMAT}, as "drumtight study plan" writes`,
  }),
  name: StudyName,
  study: z.enum(PLANNED_STUDIES),
  station: Name,
  model: Name,
  /** As the limit file names it; absent where ratings are compared and no values. */
  characteristic: Name.optional(),
  /** Of references and limits; values are told in it. */
  unit: Name.optional(),
  lower: z.number().optional(),
  upper: z.number().optional(),
  /** One study is about one way of measuring. */
  limit_file: z.strictObject({ path: Name, revision: z.int().nonnegative(), sha256: Sha256Hex }),
  made_at: Instant,
  seed: z.int().nonnegative(),
  trials: z.int().positive(),
  appraisers: z.array(personName).min(1).readonly(),
  parts: z
    .array(
      z.strictObject({
        serial: Serial,
        /** What is known of it: a value in `unit`, or whether it is good. */
        reference: z.union([z.number(), z.enum(["pass", "fail"])]).optional(),
      }),
    )
    .min(1)
    .readonly(),
  /** In the order in which they are measured. */
  runs: z
    .array(z.strictObject({ trial: z.int().positive(), appraiser: Text, part: Serial }))
    .max(MOST_RUNS)
    .readonly(),
});
type Content = z.infer<typeof Content>;

/** Which pieces are measured by whom, in which order; `sha256` is of everything else in it, as RFC 8785 writes that. */
export const StudyPlan = Content.extend({ sha256: Sha256Hex }).superRefine(
  ({ sha256, ...content }, context) => {
    const issue = (path: string, message: string) =>
      context.addIssue({ code: "custom", path: [path], message });
    if (sealOf(content) !== sha256) {
      issue(
        "sha256",
        "the plan was changed since it was written: put the plan back as it was, or write a new one",
      );
      return;
    }
    const wanted = new Set(everyRun(content).map(keyOf));
    const found = new Set(content.runs.map(keyOf));
    if (
      content.runs.length !== wanted.size ||
      found.size !== wanted.size ||
      [...found].some((it) => !wanted.has(it))
    )
      issue("runs", "each appraiser measures each part once in each trial");
    if ((content.study === "agreement") !== (content.characteristic === undefined))
      issue(
        "characteristic",
        "an agreement study compares verdicts, any other the values of a characteristic",
      );
    if ((content.characteristic === undefined) !== (content.unit === undefined))
      issue("unit", "values have a unit");
  },
);
export type StudyPlan = z.infer<typeof StudyPlan>;

export type PlannedRun = StudyPlan["runs"][number];

/** What is planned; the order of it follows from the seed. */
export type PlanRequest = Omit<Content, "format" | "runs">;

/**
 * A plan of a crossed study: in each trial each appraiser measures all parts, in an order of the parts and of the appraisers
 * that is drawn anew for each trial. AIAG, Measurement Systems Analysis, 4th ed., chapter III, has each appraiser measure all
 * parts in random order in each trial. The order is by the SHA-256 of seed, trial and name, so that anybody can draw it again.
 * @example makeStudyPlan({ ..., seed: 1, trials: 2, appraisers: ["A"], parts: [{ serial: "P1" }, { serial: "P2" }] }).runs
 * // 4 runs: both parts in trial 1, then both in trial 2
 */
export function makeStudyPlan(request: PlanRequest): StudyPlan {
  const { seed, trials, appraisers, parts } = request;
  const runs: PlannedRun[] = [];
  for (let trial = 1; trial <= trials; trial++) {
    for (const appraiser of drawn(appraisers, [seed, trial])) {
      const serials = parts.map(({ serial }) => serial);
      for (const part of drawn(serials, [seed, trial, appraiser])) runs.push({ trial, appraiser, part });
    }
  }
  const content: Content = { format: STUDY_PLAN_FORMAT, ...request, runs };
  return { ...content, sha256: sealOf(content) };
}

/** The order of names by hashes that nobody could foresee. */
function drawn(names: readonly string[], by: readonly (string | number)[]): string[] {
  return names
    .map((name) => ({ name, key: sha256Hex(JSON.stringify([...by, name])) }))
    .sort((a, b) => (a.key < b.key ? -1 : 1))
    .map(({ name }) => name);
}

function everyRun({ trials, appraisers, parts }: Content): PlannedRun[] {
  return Array.from({ length: Math.min(trials, MOST_RUNS) }, (_, i) => i + 1).flatMap((trial) =>
    appraisers.flatMap((appraiser) => parts.map(({ serial }) => ({ trial, appraiser, part: serial }))),
  );
}

function keyOf({ trial, appraiser, part }: PlannedRun): string {
  return JSON.stringify([trial, appraiser, part]);
}

function sealOf(content: Content): string {
  return sha256Hex(canonicalText(content));
}
