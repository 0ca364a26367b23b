import { readStudyPlan } from "./plan-file.ts";
import type { StudyPlan } from "./study-plan.ts";

/** A study to be measured at a station. */
export interface StudySetup {
  readonly plan: StudyPlan;
  /** The command that evaluates it, for when all is measured. */
  readonly evaluate: (recordsFolder: string) => string;
}

/** @throws UsageError where the plan can't be read or used */
export function studySetupOf(path: string): StudySetup {
  const plan = readStudyPlan(path);
  return {
    plan,
    evaluate: (recordsFolder) =>
      `drumtight study ${plan.study} --records ${forShell(recordsFolder)} --study ${forShell(path)}`,
  };
}

/** @returns the path as it is typed at a shell */
export function forShell(path: string): string {
  return /^[\w./:@%+=~-]+$/.test(path) ? path : `'${path.replaceAll("'", "'\\''")}'`;
}
