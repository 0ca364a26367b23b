import { basename } from "node:path";
import { approvalPath } from "../limits/approval.ts";
import { describeProblem, type FileProblem, FileProblems } from "../limits/checked-yaml.ts";
import { readLimitFolder } from "../limits/limit-file.ts";
import { calendarDate } from "./calendar-date.ts";
import type { ModelCalibrations } from "./calibrations-in-force.ts";
import type { ModelInForce } from "./cycle/refusals.ts";
import { UsageError } from "./explain.ts";
import { isSameFiles, type LimitFiles, limitFilesIn } from "./limit-files.ts";
import type { Judging, TakenUp } from "./limits-in-force.ts";
import type { LoadedStation } from "./load-station.ts";
import { type LimitRevision, limitRevisions, modelsOn } from "./models-in-force.ts";
import type { KeptFile } from "./records/kept-files.ts";
import { RecordError } from "./records/record-error.ts";

export interface LimitsLookParts {
  readonly loaded: Pick<LoadedStation, "file" | "limitFiles" | "reread" | "allModels">;
  /** The day on which the limits were chosen that judge to begin with, and what was said then of newer revisions. */
  readonly atStart: { readonly today: string; readonly told: readonly string[] };
  /** Unapproved limits may be run. */
  readonly allowDrafts: boolean;
  /** Takes the approval from those that judged before and were replaced. */
  readonly refuseOlder: (models: readonly ModelInForce[]) => Promise<readonly ModelInForce[]>;
  /** Keeps what decides from now on, before it decides. @throws RecordError; UsageError where a file changed meanwhile */
  readonly keep: (judging: Judging) => Promise<readonly KeptFile[]>;
  readonly wall_ms: () => number;
}

/**
 * Looks whether a station's limit files or approvals are others than at the last look, or a new day has begun, and reads them
 * anew then: a revision that lay ready takes over on its day. What is not good judges nothing, with its sentence, until it is put right: neither the old limits nor half of the new ones.
 * @returns asked between units; null where nothing has changed
 */
export function limitsLook(parts: LimitsLookParts): (now: Judging) => Promise<TakenUp | null> {
  const { limitsFolder } = parts.loaded.file;
  /** By model: the highest revision that was in force in this run. */
  const highest = new Map<string, number>();
  let seen: LimitFiles | null = parts.loaded.limitFiles;
  let day = parts.atStart.today;
  const told = new Set(parts.atStart.told);
  return async (now) => {
    const files = limitFilesIn(limitsFolder);
    const today = calendarDate(parts.wall_ms());
    if (seen && isSameFiles(seen, files) && today === day) return null;
    const { taken, isKept } = await takeUp(now, files, today);
    // Only what was read to its end has been seen: a look that broke off is made again.
    seen = isKept ? files : null;
    day = today;
    return taken;
  };

  async function takeUp(
    now: Judging,
    files: LimitFiles,
    today: string,
  ): Promise<{ readonly taken: TakenUp | null; readonly isKept: boolean }> {
    const [before, lastDay] = [seen, day];
    for (const model of now.models) rememberInForce(model, lastDay);
    const read = reread(parts, now, today, (model) => before !== null && isUntouched(model, before, files));
    const models = await notOlder(read.models, now, today === lastDay);
    const changed = models.filter((model) => !now.models.includes(model) || takesOver(model, lastDay, today));
    const calibrations = withNew(now.calibrations, changed, read.calibrationOf);
    const sentences = [
      ...changed.map((model) => announcement(model, was(now, model), today)),
      ...read.notes.filter((note) => !told.has(note)),
    ];
    const quiet = changed.length === 0;
    let taken: TakenUp | null =
      quiet && sentences.length === 0 ? null : { ...now, sentences, in_force: null };
    let isKept = true;
    if (!quiet) {
      try {
        const in_force = await parts.keep({ models: models.filter(isUsable), calibrations });
        taken = { models, calibrations, sentences, in_force };
      } catch (error) {
        if (!(error instanceof UsageError || error instanceof RecordError)) throw error;
        taken = unkept(models, now, error);
        isKept = false;
      }
    }
    if (isKept) for (const note of read.notes) told.add(note);
    return { taken, isKept };
  }

  function rememberInForce({ limits, notApproved, unusable }: ModelInForce, lastDay: string): void {
    if (notApproved !== null || unusable !== undefined || limits.effectiveDate > lastDay) return;
    highest.set(limits.model, Math.max(limits.revision, highest.get(limits.model) ?? 0));
  }

  async function notOlder(
    models: readonly ModelInForce[],
    now: Judging,
    isSameDay: boolean,
  ): Promise<readonly ModelInForce[]> {
    const checked: ModelInForce[] = [];
    for (const model of models) {
      if (isSameDay && now.models.includes(model)) checked.push(model);
      else checked.push(...(await parts.refuseOlder([model])).map(supersededHere));
    }
    return checked;
  }

  function supersededHere(model: ModelInForce): ModelInForce {
    const { revision, model: name, source } = model.limits;
    const newest = highest.get(name) ?? 0;
    if (model.notApproved !== null || model.unusable !== undefined || newest <= revision) return model;
    const notApproved = `${source.path} is revision ${revision} of ${name}, and revision ${newest} was in force already. Put that one back, or set this computer's clock right where it was put back; where the older limits are wanted, give them a higher revision and have them approved.`;
    return { ...model, approvedBy: null, notApproved };
  }
}

interface Reread {
  readonly models: readonly ModelInForce[];
  readonly calibrationOf: (model: string) => ModelCalibrations | undefined;
  /** Of newer revisions that don't judge, and of models that the station has not yet. */
  readonly notes: readonly string[];
}

/** Models about which nothing has changed stay the very same objects. */
function reread(
  { loaded, allowDrafts, wall_ms }: LimitsLookParts,
  now: Judging,
  today: string,
  isUntouched: (model: ModelInForce) => boolean,
): Reread {
  let fresh: LoadedStation;
  try {
    fresh = loaded.reread();
  } catch (error) {
    if (!(error instanceof FileProblems)) throw error;
    const good = readLimitFolder(loaded.file.limitsFolder);
    const due = modelsOn(
      limitRevisions(good.kind === "read" ? good.models : [], loaded.file.approvers),
      today,
      allowDrafts,
    ).models;
    const models = now.models.map((model) => {
      const next = due.find(({ limits }) => limits.model === model.limits.model);
      return faulty(overtaken(model, next, error), error, isUntouched(model));
    });
    const isTold = models.some((model) => !now.models.includes(model));
    return { models, calibrationOf: () => undefined, notes: isTold ? [] : faultyBeside(now, error) };
  }
  const chosen = modelsOn(fresh.models, today, allowDrafts);
  const found = new Map(chosen.models.map((model) => [model.limits.model, model]));
  const learned = fresh.calibrationsAt(
    wall_ms(),
    chosen.models.map(({ limits }) => limits),
  );
  const added = [...found.keys()].filter((name) => !loaded.allModels.includes(name));
  return {
    models: now.models.map((model) => {
      const is = found.get(model.limits.model);
      if (!is)
        return unusable(
          model,
          `The limits of ${model.limits.model}, ${model.limits.source.path}, are gone. Put them back.`,
        );
      return isUsable(model) && isUntouched(model) && is.limits.source.path === model.limits.source.path
        ? model
        : is;
    }),
    calibrationOf: (model) => learned.get(model),
    notes: [
      ...chosen.notes,
      ...added.map(
        (model) =>
          `There are limits of a new model, ${model}, now. Start the station again to test units of it.`,
      ),
    ],
  };
}

/** While one file has a mistake, nobody can say whether another that was changed fits the station. */
function faulty(model: ModelInForce, { problems }: FileProblems, isUntouched: boolean): ModelInForce {
  const { path } = model.limits.source;
  const own = problems.filter(({ file }) => file === path);
  if (own.length === 0 && isUntouched) return model;
  const what = firstOf(own.length > 0 ? own : problems);
  return unusable(
    model,
    `The limits of ${model.limits.model} were changed and can't be used: ${what}. ${PUT_RIGHT}`,
  );
}

const PUT_RIGHT = "Have that put right; drumtight limits check names every mistake.";

function firstOf([first, ...more]: readonly FileProblem[]): string {
  const others = more.length === 0 ? "" : `, and ${more.length} more`;
  return `${first ? describeProblem(first) : ""}${others}`;
}

/** A newer revision should judge by now, and can't be taken up while another file has a mistake. */
function overtaken(
  model: ModelInForce,
  next: LimitRevision | undefined,
  { problems }: FileProblems,
): ModelInForce {
  if (!next || next.limits.revision <= model.limits.revision) return model;
  const { revision, effectiveDate } = next.limits;
  return unusable(
    model,
    `Revision ${revision} of the limits of ${model.limits.model} is there, effective since ${effectiveDate}, and can't be taken up: ${firstOf(problems)}. ${PUT_RIGHT}`,
  );
}

/** A file that nobody judges by is told of; those in force go on. */
function faultyBeside({ models }: Judging, { problems }: FileProblems): string[] {
  const beside = problems.filter(({ file }) => models.every(({ limits }) => limits.source.path !== file));
  if (beside.length === 0) return [];
  return [`A limit file beside those in force can't be used: ${firstOf(beside)}. ${PUT_RIGHT}`];
}

function unusable(model: ModelInForce, sentence: string): ModelInForce {
  return model.unusable === sentence ? model : { ...model, unusable: sentence };
}

function isUsable(model: ModelInForce): boolean {
  return model.unusable === undefined;
}

/** What can't be kept judges nothing. */
function unkept(models: readonly ModelInForce[], now: Judging, error: Error): TakenUp {
  const refused = models.map((model) =>
    now.models.includes(model)
      ? model
      : unusable(model, `The changed limits of ${model.limits.model} can't be taken up. ${error.message}`),
  );
  const sentences = refused
    .filter((model) => !now.models.includes(model))
    .flatMap((model) => model.unusable ?? []);
  return { models: refused, calibrations: now.calibrations, sentences, in_force: null };
}

function withNew(
  old: Judging["calibrations"],
  changed: readonly ModelInForce[],
  calibrationOf: Reread["calibrationOf"],
): Judging["calibrations"] {
  const learned = changed.filter(isUsable).flatMap(({ limits }) => {
    const calibration = calibrationOf(limits.model);
    return calibration ? [[limits.model, calibration] as const] : [];
  });
  return new Map([...old, ...learned]);
}

/** It lay in the place of the one in force, and its day has begun. */
function takesOver({ limits, notApproved }: ModelInForce, lastDay: string, today: string): boolean {
  return notApproved === null && limits.effectiveDate > lastDay && limits.effectiveDate <= today;
}

function was(now: Judging, { limits }: ModelInForce): ModelInForce | undefined {
  return now.models.find((model) => model.limits.model === limits.model);
}

function announcement(is: ModelInForce, before: ModelInForce | undefined, today: string): string {
  const { model, revision, effectiveDate, reason } = is.limits;
  if (is.unusable !== undefined) return is.unusable;
  if (is.notApproved !== null) return is.notApproved;
  if (effectiveDate > today) {
    return `The limits of ${model} are revision ${revision} now, which takes effect on ${effectiveDate}: no unit of it is tested until then.`;
  }
  const was = before?.limits.revision;
  if (was === revision && before?.approvedBy === is.approvedBy && before.unusable === undefined) {
    return `The limits of ${model}, revision ${revision}, take effect today, ${effectiveDate}; approved by ${is.approvedBy}: ${reason}`;
  }
  const old = was === undefined || was === revision ? "" : ` instead of revision ${was}`;
  return `The limits of ${model} are revision ${revision} from now on${old}, approved by ${is.approvedBy}: ${reason}`;
}

function isUntouched({ limits }: ModelInForce, before: LimitFiles, now: LimitFiles): boolean {
  const name = basename(limits.source.path);
  return [name, basename(approvalPath(limits.source.path))].every(
    (file) => before.get(file) === now.get(file),
  );
}
