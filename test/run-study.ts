import { expect, onTestFinished, vi } from "vitest";
import { studyCommand } from "../station/commands/study.ts";
import { explain } from "../station/explain.ts";

export interface StudyTold {
  readonly out: string;
  readonly err: string;
  readonly code: unknown;
}

/** Runs `drumtight study` as the command line does, in the test's own process. */
export async function runStudy(...args: readonly string[]): Promise<StudyTold> {
  const before = process.exitCode;
  let [out, err] = ["", ""];
  const spies = [
    vi.spyOn(process.stdout, "write").mockImplementation((text) => {
      out += String(text);
      return true;
    }),
    vi.spyOn(process.stderr, "write").mockImplementation((text) => {
      err += String(text);
      return true;
    }),
  ];
  const restore = () => {
    for (const spy of spies) spy.mockRestore();
  };
  onTestFinished(restore);
  process.exitCode = undefined;
  try {
    await studyCommand().parseAsync([...args], { from: "user" });
    return { out, err, code: process.exitCode ?? 0 };
  } finally {
    process.exitCode = before;
    restore();
  }
}

/** @returns what its one JSON object says */
export async function studyJson(...args: readonly string[]) {
  return JSON.parse((await runStudy(...args, "--json")).out);
}

/** @returns the one sentence, after seeing that it ends with 2 and prints nothing else */
export async function studyRefusal(...args: readonly string[]): Promise<string> {
  try {
    await runStudy(...args);
  } catch (error) {
    const { text, exitCode } = explain(error);
    expect(exitCode).toBe(2);
    expect(text).not.toMatch(/\n\s+at |undefined|NaN|\[object/);
    return text;
  }
  throw new Error("It was not refused.");
}
