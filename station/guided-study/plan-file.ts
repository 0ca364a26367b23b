import { readFileSync, writeFileSync } from "node:fs";
import { UsageError } from "../explain.ts";
import { errnoOf } from "../records/record-error.ts";
import { StudyPlan } from "./study-plan.ts";

/** @throws UsageError in one sentence: which plan, what is wrong with it, what to do */
export function readStudyPlan(path: string): StudyPlan {
  let text: string;
  try {
    text = readFileSync(path, "utf8");
  } catch (error) {
    if (errnoOf(error) === "ENOENT")
      throw new UsageError(`There is no study plan ${path}: write one with "drumtight study plan".`);
    throw new UsageError(`The study plan ${path} can't be read (${errnoOf(error)}).`);
  }
  let content: unknown;
  try {
    content = JSON.parse(text);
  } catch {
    throw new UsageError(
      `${path} is no study plan: it is no whole JSON file. Write one with "drumtight study plan".`,
    );
  }
  const read = StudyPlan.safeParse(content);
  if (read.success) return read.data;
  const [issue] = read.error.issues;
  const where = issue && issue.path.length > 0 ? `${issue.path.join(".")}: ` : "";
  throw new UsageError(`The study plan ${path} can't be used: ${where}${issue?.message ?? "it is no plan"}.`);
}

/** Never over a file that is there. @throws UsageError with what to do */
export function writeStudyPlan(path: string, plan: StudyPlan): void {
  const { runs, sha256, ...head } = plan;
  const lines = runs.map((run) => `    ${JSON.stringify(run)}`).join(",\n");
  const opened = JSON.stringify(head, null, 2).replace(/\n\}$/, "");
  const text = `${opened},\n  "runs": [\n${lines}\n  ],\n  "sha256": "${sha256}"\n}\n`;
  try {
    writeFileSync(path, text, { flag: "wx" });
  } catch (error) {
    if (errnoOf(error) === "EEXIST")
      throw new UsageError(`${path} is there already, and a study may rest on it: give another --out.`);
    throw new UsageError(
      `The study plan can't be written to ${path} (${errnoOf(error)}): give another --out.`,
    );
  }
}
