import { vi } from "vitest";
import { commandLine } from "../../station/command-line.ts";
import type { Finished } from "./command-line.ts";

let last: Promise<unknown> = Promise.resolve();

/**
 * As `drumtight` of command-line.ts, without the time that the program takes to start: in the test's own process, one after the
 * other. What several programs do at the same time is tried with real ones.
 * @param env for the time of this command
 */
export function commandInProcess(
  args: readonly string[],
  env: Readonly<Record<string, string>> = {},
): Promise<Finished> {
  const turn = last.then(() => run(args, env));
  last = turn.catch(() => undefined);
  return turn;
}

async function run(args: readonly string[], env: Readonly<Record<string, string>>): Promise<Finished> {
  const texts = { stdout: "", stderr: "" };
  const keep = (name: keyof typeof texts) => (chunk: unknown) => {
    texts[name] += String(chunk);
    return true;
  };
  const spies = [
    vi.spyOn(process.stdout, "write").mockImplementation(keep("stdout")),
    vi.spyOn(process.stderr, "write").mockImplementation(keep("stderr")),
  ];
  const { exitCode } = process;
  // A station file may make its time zone the process's.
  const names = [...Object.keys(env), "TZ"];
  const before = names.map((name) => [name, process.env[name]] as const);
  process.exitCode = undefined;
  Object.assign(process.env, env);
  try {
    await commandLine(args);
    return { code: Number(process.exitCode ?? 0), ...texts };
  } finally {
    process.exitCode = exitCode;
    for (const [name, value] of before) {
      if (value === undefined) delete process.env[name];
      else process.env[name] = value;
    }
    for (const spy of spies) spy.mockRestore();
  }
}
