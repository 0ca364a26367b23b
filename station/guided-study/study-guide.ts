import type { StudyMark } from "../cycle/attempt.ts";
import type { Reason } from "../cycle/reason.ts";
import { UsageError } from "../explain.ts";
import type { SignedIn } from "../people/person.ts";
import { nameKey } from "../people/person-name.ts";
import type { Traveller } from "../records/traveller.ts";
import { quoted } from "../shown-text.ts";
import { studyTraveller } from "./study-measurements.ts";
import type { PlannedRun, StudyPlan } from "./study-plan.ts";

/** Where a study is, for everybody who is to be told. */
export interface StudyNow {
  readonly name: string;
  readonly of: number;
  /** What is measured next, counted from 1; null where all is measured. */
  readonly next: (PlannedRun & { readonly run: number }) | null;
  /** The command that evaluates it. */
  readonly evaluate: string;
}

export type StudyAnswer =
  | { readonly kind: "asked for"; readonly mark: StudyMark }
  | { readonly kind: "refused"; readonly reason: Reason };

/**
 * Says which piece of a planned study is next, and knows from the travellers what has been measured: void attempts and those
 * without the study's value are asked for again.
 */
export class StudyGuide {
  readonly plan: StudyPlan;
  readonly #evaluate: string;
  readonly #measured = new Set<number>();

  /**
   * @param recorded whatever is recorded of the plan's pieces
   * @throws UsageError where that contradicts the plan
   */
  constructor(plan: StudyPlan, recorded: readonly Traveller[], evaluate: string) {
    this.plan = plan;
    this.#evaluate = evaluate;
    for (const traveller of recorded) {
      const found = studyTraveller(plan, traveller);
      if (found.kind === "other plan") {
        throw new UsageError(
          `Study ${plan.name} has been begun with another plan (SHA-256 ${found.sha256.slice(0, 12)}..., this one has ${plan.sha256.slice(0, 12)}...): use that plan, or plan a study of another name.`,
        );
      }
      if (found.kind === "not planned") {
        throw new UsageError(
          `A test of ${quoted(traveller.serial)} at ${traveller.started_at} says it is of study ${plan.name}, and the plan has no such run: have the quality engineer look at the records.`,
        );
      }
      this.recorded(traveller);
    }
  }

  /** A traveller is on disk. */
  recorded(traveller: Traveller): void {
    const found = studyTraveller(this.plan, traveller);
    if (found.kind === "measured") this.#measured.add(found.run);
  }

  now(): StudyNow {
    const { name, runs } = this.plan;
    const at = runs.findIndex((_, i) => !this.#measured.has(i + 1));
    const run = runs[at];
    return { name, of: runs.length, next: run ? { ...run, run: at + 1 } : null, evaluate: this.#evaluate };
  }

  ask(serial: string, who: SignedIn): StudyAnswer {
    const now = this.now();
    const { name, of, next } = now;
    if (!next) return refused("STUDY_DONE", doneSentence(now));
    const { run, part, appraiser, trial } = next;
    if (part !== serial) {
      return refused(
        "NOT_ASKED_FOR",
        `Study ${name}, ${run} of ${of}, asks for ${quoted(part)} now, and ${quoted(serial)} was scanned. Put ${quoted(part)} on and scan it.`,
      );
    }
    if (who.name !== null && nameKey(who.name) !== nameKey(appraiser)) {
      return refused(
        "OTHER_APPRAISER",
        `Study ${name}, ${run} of ${of}, is measured by ${appraiser}, and ${who.name} is signed in. Let ${appraiser} sign in and scan it.`,
      );
    }
    return { kind: "asked for", mark: { name, planSha256: this.plan.sha256, run, of, appraiser, trial } };
  }

  /** @returns why these limits can't go on with what others began */
  refuseLimits(limits: { readonly model: string; readonly source: { readonly sha256: string } }): Reason[] {
    const { name, model, limit_file } = this.plan;
    if (limits.model === model && limits.source.sha256 === limit_file.sha256) return [];
    return [
      {
        code: "STUDY_LIMITS_CHANGED",
        sentence: `Study ${name} was planned with ${limit_file.path}, revision ${limit_file.revision}, which has been changed since: one study is about one way of measuring. Plan a new one.`,
      },
    ];
  }
}

/** @example "Study RR-1 is complete: all 90 measurements are recorded. Evaluate it: drumtight study ..." */
export function doneSentence({ name, of, evaluate }: StudyNow): string {
  return `Study ${name} is complete: all ${of} measurements are recorded. Evaluate it: ${evaluate}`;
}

/**
 * @param station with its models on the line
 * @throws UsageError where the plan is for another station, model or limit file
 */
export function requireForStation(
  { name, station, model, limit_file }: StudyPlan,
  at: {
    readonly name: string;
    readonly models: readonly {
      readonly limits: { readonly model: string; readonly source: { readonly sha256: string } };
    }[];
  },
): void {
  if (station !== at.name) {
    throw new UsageError(
      `Study ${name} is planned for ${quoted(station)}, and this is ${quoted(at.name)}: plan one for this station.`,
    );
  }
  const found = at.models.find(({ limits }) => limits.model === model);
  if (!found) throw new UsageError(`Study ${name} is about model ${model}, which is not on this line.`);
  if (found.limits.source.sha256 !== limit_file.sha256) {
    throw new UsageError(
      `Study ${name} was planned with ${limit_file.path}, revision ${limit_file.revision}, and the limits of ${model} are another file now: plan a new one.`,
    );
  }
}

function refused(code: Reason["code"], sentence: string): StudyAnswer {
  return { kind: "refused", reason: { code, sentence } };
}
