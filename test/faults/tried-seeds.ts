import { fork } from "node:child_process";
import { once } from "node:events";
import { join } from "node:path";
import { packageRoot } from "../../station/package-root.ts";
import type { Stress } from "./fault-plan.ts";
import type { Patch } from "./mutants.ts";
import type { Invariant } from "./witness.ts";

/** How a campaign may fail: one of its invariants, or more passes of units beyond a limit than the limit files state. */
export type Way = Invariant | "stated risk";

/** Seeds to be run on the built program until one fails in one of these ways. */
export interface Hunt {
  readonly first: number;
  readonly seeds: number;
  readonly ways: readonly Way[];
  readonly stress?: Stress | undefined;
  /** What is changed in the program; nothing for the program as it is. */
  readonly patches: readonly Patch[];
}

/** The first seed that failed so. */
export interface Found {
  readonly seed: number;
  readonly invariant: string;
  readonly text: string;
}

/** In a process of its own. @returns null where no seed failed so */
export async function hunt(asked: Hunt): Promise<Found | null> {
  const script = join(packageRoot(), "dist", "test", "faults", "until-failed.js");
  const child = fork(script, [JSON.stringify(asked)], { stdio: ["ignore", "ignore", "inherit", "ipc"] });
  const gone = once(child, "exit");
  let found: Found | null | undefined;
  child.on("message", (message) => {
    found = message as Found | null;
  });
  const [code] = await gone;
  if (found === undefined) throw new Error(`A process of the campaign ended with ${code} and no result.`);
  return found;
}
