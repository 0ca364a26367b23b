import type { StudyReport } from "../quality/study-report.ts";
import { studyText } from "./study-text.ts";

/** Where a study is to be shown. */
export interface StudyOutput {
  /** One JSON object in place of the tables. */
  readonly json?: true | undefined;
  /** File for a page of its own; overwritten. */
  readonly html?: string | undefined;
  /** Where the values came from: a CSV file as typed, a records folder with its days. */
  readonly source?: string | undefined;
}

/**
 * Prints a study and writes its page.
 * @returns the exit code: 1 where the study's answer is no
 * @throws UsageError where the page can't be written
 */
export async function presentStudy(report: StudyReport, { json, html, source }: StudyOutput): Promise<0 | 1> {
  const { title, question, subject, conclusion, answer, notes, figures } = report;
  if (html !== undefined) {
    const { writeStudyPage } = await import("./study-html.ts");
    await writeStudyPage(report, html, source);
  }
  const shown = json
    ? JSON.stringify({
        ...{ study: title, question, subject, source: source ?? null, answer, conclusion, notes },
        ...figures,
      })
    : studyText(report, source);
  process.stdout.write(`${shown}\n`);
  return answer === "no" ? 1 : 0;
}
