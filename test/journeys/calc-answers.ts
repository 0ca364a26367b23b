import { expect, vi } from "vitest";
import { calcCommand } from "../../station/commands/calc.ts";
import { explain } from "../../station/explain.ts";
import { drumtight } from "./command-line.ts";

/** What `drumtight calc` prints, without a program of its own: `calc.test.ts` sees that one prints it, too. */
async function printed(...args: string[]): Promise<string> {
  let out = "";
  const spy = vi.spyOn(process.stdout, "write").mockImplementation((said) => {
    out += String(said);
    return true;
  });
  try {
    await calcCommand().parseAsync(args, { from: "user" });
    return out;
  } finally {
    spy.mockRestore();
  }
}

/** What a program gets of `drumtight calc ... --json`. */
export async function answer(...args: string[]): Promise<Record<string, unknown>> {
  const said = await printed(...args, "--json");
  expect(said.trimEnd().split("\n")).toHaveLength(1);
  return JSON.parse(said) as Record<string, unknown>;
}

/** What a person gets. */
export async function text(...args: string[]): Promise<string> {
  const said = await printed(...args);
  expect(said).not.toBe("");
  return said;
}

/** What `--help` of one of the calculators prints. */
export async function help(name: string): Promise<string> {
  const { code, stdout, stderr } = await drumtight(["calc", name, "--help"]);
  expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
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
