import type { FileProblem } from "../../limits/checked-yaml.ts";
import type { ModelLimits } from "../../limits/model.ts";

const CHECK_FAILED = 1;
const CANNOT_RUN = 2;

export type ReadResult =
  | { readonly ok: true; readonly limits: ModelLimits; readonly text: string }
  | {
      readonly ok: false;
      readonly exitCode: number;
      readonly problems: readonly FileProblem[];
      readonly sentences: readonly string[];
    };

/** @returns a limit file with its text, or what is wrong with it and the exit code for that */
export async function readOne(file: string): Promise<ReadResult> {
  const { limitFileText, readLimitFile, UnreadableFile } = await import("../../limits/limit-file.ts");
  const { describeProblem, FileProblems } = await import("../../limits/checked-yaml.ts");
  try {
    const text = limitFileText(file);
    return { ok: true, limits: readLimitFile(file, text), text };
  } catch (error) {
    if (!(error instanceof FileProblems)) throw error;
    const { problems } = error;
    const exitCode = error instanceof UnreadableFile ? CANNOT_RUN : CHECK_FAILED;
    return { ok: false, exitCode, problems, sentences: problems.map(describeProblem) };
  }
}

/** A line of results. */
export function print(text: string): void {
  process.stdout.write(`${text}\n`);
}

/** Lines for people, beside the results. */
export function complain(sentences: readonly string[]): void {
  if (sentences.length === 0) return;
  process.stderr.write(`${sentences.join("\n")}\n`);
}
