import { vi } from "vitest";
import { limitsCommand } from "../station/commands/limits.ts";

/** Runs the command in this process and gives back what a terminal would have seen. */
export async function limits(...args: string[]): Promise<{ exitCode: number; out: string; err: string }> {
  const texts = { out: "", err: "" };
  const keep = (name: "out" | "err") => (chunk: unknown) => {
    texts[name] += String(chunk);
    return true;
  };
  const spies = [
    vi.spyOn(process.stdout, "write").mockImplementation(keep("out")),
    vi.spyOn(process.stderr, "write").mockImplementation(keep("err")),
  ];
  const before = process.exitCode;
  process.exitCode = undefined;
  try {
    await limitsCommand().parseAsync(args, { from: "user" });
    return { exitCode: Number(process.exitCode ?? 0), ...texts };
  } finally {
    process.exitCode = before;
    for (const spy of spies) spy.mockRestore();
  }
}
