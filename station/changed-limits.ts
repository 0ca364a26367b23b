import { readdirSync, readFileSync } from "node:fs";
import { basename, join } from "node:path";
import { approvalPath } from "../limits/approval.ts";
import { describeProblem, FileProblems } from "../limits/checked-yaml.ts";
import { calendarDate } from "./calendar-date.ts";
import type { ModelCalibrations } from "./calibrations-in-force.ts";
import type { ModelInForce } from "./cycle/refusals.ts";
import { UsageError } from "./explain.ts";
import type { Judging, TakenUp } from "./limits-in-force.ts";
import type { LoadedStation } from "./load-station.ts";
import { sha256Hex } from "./records/chain.ts";
import type { KeptFile } from "./records/kept-files.ts";
import { RecordError } from "./records/record-error.ts";

export interface LimitsLookParts {
  readonly loaded: Pick<LoadedStation, "file" | "reread" | "allModels">;
  /** Takes the approval from those that judged before and were replaced. */
  readonly refuseOlder: (models: readonly ModelInForce[]) => Promise<readonly ModelInForce[]>;
  /** Keeps what decides from now on, before it decides. @throws RecordError; UsageError where a file changed meanwhile */
  readonly keep: (judging: Judging) => Promise<readonly KeptFile[]>;
  readonly wall_ms: () => number;
}

/**
 * Looks whether a station's limit files or approvals are others than at the last look, and reads them anew if they are. What is
 * not good judges nothing, with its sentence, until it is put right: neither the old limits nor half of the new ones.
 * @returns asked between units; null where nothing has changed
 */
export function limitsLook(parts: LimitsLookParts): (now: Judging) => Promise<TakenUp | null> {
  const { limitsFolder } = parts.loaded.file;
  /** By model: the highest revision that was in force in this run. */
  const highest = new Map<string, number>();
  let seen: Files | null = filesIn(limitsFolder);
  let toldNew: readonly string[] = [];
  return async (now) => {
    for (const model of now.models) rememberInForce(model);
    const files = filesIn(limitsFolder);
    const before = seen;
    if (before && isSame(before, files)) return null;
    seen = files;
    const today = calendarDate(parts.wall_ms());
    const read = reread(parts, now, (model) => before !== null && isUntouched(model, before, files));
    const models = await notOlder(read.models, now);
    const calibrations = withNew(now.calibrations, models, now, read.calibrationOf);
    const changed = models.filter((model) => !now.models.includes(model));
    const added = read.added.filter((model) => !toldNew.includes(model));
    toldNew = [...toldNew, ...added];
    const sentences = [
      ...changed.map((model) => announcement(model, was(now, model), today)),
      ...added.map(
        (model) =>
          `There are limits of a new model, ${model}, now. Start the station again to test units of it.`,
      ),
    ];
    if (changed.length === 0) return sentences.length === 0 ? null : { ...now, sentences, in_force: null };
    try {
      const in_force = await parts.keep({ models: models.filter(isUsable), calibrations });
      return { models, calibrations, sentences, in_force };
    } catch (error) {
      if (!(error instanceof UsageError || error instanceof RecordError)) throw error;
      seen = null;
      return unkept(models, now, error);
    }
  };

  function rememberInForce({ limits, notApproved, unusable }: ModelInForce): void {
    if (notApproved !== null || unusable !== undefined) return;
    if (limits.effectiveDate > calendarDate(parts.wall_ms())) return;
    highest.set(limits.model, Math.max(limits.revision, highest.get(limits.model) ?? 0));
  }

  async function notOlder(models: readonly ModelInForce[], now: Judging): Promise<readonly ModelInForce[]> {
    const checked: ModelInForce[] = [];
    for (const model of models) {
      if (now.models.includes(model)) checked.push(model);
      else checked.push(...(await parts.refuseOlder([model])).map(supersededHere));
    }
    return checked;
  }

  function supersededHere(model: ModelInForce): ModelInForce {
    const { revision, model: name, source } = model.limits;
    const newest = highest.get(name) ?? 0;
    if (model.notApproved !== null || model.unusable !== undefined || newest <= revision) return model;
    const notApproved = `${source.path} is revision ${revision} of ${name}, and revision ${newest} was in force already. Put that one back; where the older limits are wanted, give them a higher revision and have them approved.`;
    return { ...model, approvedBy: null, notApproved };
  }
}

interface Reread {
  readonly models: readonly ModelInForce[];
  readonly calibrationOf: (model: string) => ModelCalibrations | undefined;
  readonly added: readonly string[];
}

/** Models about which nothing has changed stay the very same objects. */
function reread(
  { loaded, wall_ms }: LimitsLookParts,
  now: Judging,
  isUntouched: (model: ModelInForce) => boolean,
): Reread {
  let fresh: LoadedStation;
  try {
    fresh = loaded.reread();
  } catch (error) {
    if (!(error instanceof FileProblems)) throw error;
    const models = now.models.map((model) => faulty(model, error, isUntouched(model)));
    return { models, calibrationOf: () => undefined, added: [] };
  }
  const found = new Map(fresh.models.map((model) => [model.limits.model, model]));
  const learned = fresh.calibrationsAt(wall_ms());
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
    added: [...found.keys()].filter((name) => !loaded.allModels.includes(name)),
  };
}

/** While one file has a mistake, nobody can say whether another that was changed fits the station. */
function faulty(model: ModelInForce, { problems }: FileProblems, isUntouched: boolean): ModelInForce {
  const { path } = model.limits.source;
  const own = problems.filter(({ file }) => file === path);
  if (own.length === 0 && isUntouched) return model;
  const [first, ...more] = own.length > 0 ? own : problems;
  const what = first ? describeProblem(first) : path;
  const others = more.length === 0 ? "" : `, and ${more.length} more`;
  return unusable(
    model,
    `The limits of ${model.limits.model} were changed and can't be used: ${what}${others}. Have that put right; drumtight limits check names every mistake.`,
  );
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
  models: readonly ModelInForce[],
  now: Judging,
  calibrationOf: Reread["calibrationOf"],
): Judging["calibrations"] {
  const changed = models.filter((model) => !now.models.includes(model) && isUsable(model));
  const learned = changed.flatMap(({ limits }) => {
    const calibration = calibrationOf(limits.model);
    return calibration ? [[limits.model, calibration] as const] : [];
  });
  return new Map([...old, ...learned]);
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
  const old = before ? ` instead of revision ${before.limits.revision}` : "";
  return `The limits of ${model} are revision ${revision} from now on${old}, approved by ${is.approvedBy}: ${reason}`;
}

/** SHA-256 by name of every limit file and approval of a folder; a file that can't be read has what was wrong instead. */
type Files = ReadonlyMap<string, string>;

function filesIn(folder: string): Files {
  try {
    const names = readdirSync(folder).filter((name) => /\.yaml(?:\.approval\.json)?$/.test(name));
    return new Map(names.sort().map((name) => [name, contentOf(join(folder, name))]));
  } catch (error) {
    return new Map([[".", String(error)]]);
  }
}

function contentOf(path: string): string {
  try {
    return sha256Hex(readFileSync(path));
  } catch (error) {
    return String(error);
  }
}

function isSame(a: Files, b: Files): boolean {
  return a.size === b.size && [...a].every(([name, content]) => b.get(name) === content);
}

function isUntouched({ limits }: ModelInForce, before: Files, now: Files): boolean {
  const name = basename(limits.source.path);
  return [name, basename(approvalPath(limits.source.path))].every(
    (file) => before.get(file) === now.get(file),
  );
}
