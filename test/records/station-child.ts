import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { existsSync, mkdirSync } from "node:fs";
import { join } from "node:path";
import { createInterface } from "node:readline";
import { fileURLToPath } from "node:url";
import { expect, onTestFinished } from "vitest";
import type { AttemptFacts, AttemptOutcome } from "../../station/records/traveller.ts";

const CHILD = fileURLToPath(new URL("station-child.mjs", import.meta.url));
const BUILT = fileURLToPath(new URL("../../dist/station/records/store.js", import.meta.url));

export interface ChildAttempt {
  readonly facts: AttemptFacts;
  readonly outcome: AttemptOutcome;
  /** Whether units are held afterwards that failed reference checks put in doubt. */
  readonly holds?: boolean;
}

export interface ChildEvent {
  readonly operation?: string;
  readonly path?: string;
  readonly begun?: string;
  readonly shown?: string;
  readonly verdict?: string;
  readonly sha256?: string;
  readonly held?: number;
  readonly opened?: boolean;
  readonly operations?: number;
}

export function startChild(...args: string[]): ChildProcess {
  if (!existsSync(BUILT)) throw new Error("This test runs the built program: npm run build first.");
  const child = spawn(process.execPath, [CHILD, ...args], { stdio: ["ignore", "pipe", "inherit"] });
  onTestFinished(() => {
    child.kill("SIGKILL");
  });
  return child;
}

/** @param killAt the file operation before which it is killed; 0 for never */
export async function runChild(
  folder: string,
  killAt: number,
  attempts: readonly ChildAttempt[],
): Promise<ChildEvent[]> {
  return linesOf<ChildEvent>(startChild("run", folder, String(killAt), JSON.stringify(attempts)));
}

/** A station as a kill before one of its file operations would leave it. */
export interface Killed {
  readonly folder: string;
  /** What it had said until then. */
  readonly events: readonly ChildEvent[];
  /** For a failing test: which kill. */
  readonly at: string;
}

/**
 * Every kill between two file operations of a run, from a copy of its folder before each: SIGKILL takes nothing back that the
 * kernel has of a file, so that this is what it leaves, at the cost of one process instead of one for each operation.
 * @returns them in order, the finished run last
 */
export async function everyKill(folder: string, attempts: readonly ChildAttempt[]): Promise<Killed[]> {
  const run = join(folder, "run");
  mkdirSync(run);
  const events = await linesOf<ChildEvent>(startChild("copies", folder, "0", JSON.stringify(attempts)));
  const kills: Killed[] = [];
  for (const [said, { operation, path }] of events.entries()) {
    if (operation === undefined) continue;
    const number = kills.length + 1;
    kills.push({
      folder: join(folder, `${number}`),
      events: events.slice(0, said),
      at: `killed before operation ${number}, ${operation} ${path}`,
    });
  }
  return [...kills, { folder: run, events, at: "not killed" }];
}

/** What the child says, a line each, until it ends. */
export async function linesOf<T>(child: ChildProcess): Promise<T[]> {
  const exit = once(child, "exit");
  const lines: T[] = [];
  for await (const line of createInterface({ input: child.stdout ?? process.stdin }))
    lines.push(JSON.parse(line));
  const [code, signal] = await exit;
  expect(signal ?? code, "the child either ends well or is killed").toSatisfy(
    (it) => it === 0 || it === "SIGKILL",
  );
  return lines;
}
