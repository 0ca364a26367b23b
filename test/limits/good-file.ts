import { readFileSync } from "node:fs";
import { join } from "node:path";
import { FileProblems } from "../../limits/checked-yaml.ts";
import { readLimitFile } from "../../limits/limit-file.ts";

/** A limit file without a mistake. */
export const GOOD = readFileSync(join(import.meta.dirname, "good.yaml"), "utf8");

/** Parts of it. */
export const METHOD = "method: { kind: fitted }";
export const STEADY = "    steady: { within: 1 %, window: 0.4 s, ahead: 2 s }\n";
export const CORRECTION = GOOD.slice(GOOD.indexOf("    correction:"), GOOD.indexOf("\ncharacteristics:"));
export const EARLY = GOOD.slice(GOOD.indexOf("early_verdict:"), GOOD.indexOf("    vented_within"));

/** The good file with some places changed. */
export function changed(...changes: readonly (readonly [from: string, to: string])[]): string {
  return changes.reduce((text, [from, to]) => {
    if (!text.includes(from)) throw new Error(`The good file has no ${JSON.stringify(from)}.`);
    return text.replace(from, () => to);
  }, GOOD);
}

export function lineOf(text: string, piece: string): number {
  return text.slice(0, text.indexOf(piece)).split("\n").length;
}

export function problemsIn(text: string) {
  return problemsOf(() => readLimitFile("m.yaml", text));
}

export function problemsOf(read: () => unknown) {
  try {
    read();
  } catch (error) {
    if (error instanceof FileProblems) return error.problems;
    throw error;
  }
  throw new Error("The file was taken as good.");
}
