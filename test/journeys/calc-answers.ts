import { expect } from "vitest";
import { calcCommand } from "../../station/commands/calc.ts";
import { explain } from "../../station/explain.ts";
import { drumtight } from "./command-line.ts";

/** What a program gets of `drumtight calc ... --json`. */
export async function answer(...args: string[]): Promise<Record<string, unknown>> {
  const { code, stdout, stderr } = await drumtight(["calc", ...args, "--json"]);
  expect(stderr).toBe("");
  expect(code).toBe(0);
  expect(stdout.trimEnd().split("\n")).toHaveLength(1);
  return JSON.parse(stdout) as Record<string, unknown>;
}

/** What a person gets. */
export async function text(...args: string[]): Promise<string> {
  const { code, stdout, stderr } = await drumtight(["calc", ...args]);
  expect(stderr).toBe("");
  expect(code).toBe(0);
  return stdout;
}

/** The one sentence of a refusal, without a program of its own: `calc.test.ts` sees how any refusal ends one. */
export async function refusal(...args: string[]): Promise<string> {
  const refused = await calcCommand()
    .parseAsync(args, { from: "user" })
    .then(() => null, explain);
  expect(refused?.exitCode).toBe(2);
  expect(refused?.text).not.toMatch(/\n/);
  return refused?.text ?? "";
}
