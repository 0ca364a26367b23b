import { type ChildProcess, fork } from "node:child_process";
import { once } from "node:events";
import { join } from "node:path";
import { packageRoot } from "../../station/package-root.ts";
import type { Stress } from "./fault-plan.ts";
import type { Patch } from "./mutants.ts";
import type { Invariant } from "./witness.ts";

/** How a campaign may fail: one of its invariants, or more passes of units beyond a limit than the limit files state. */
export type Way = Invariant | "stated risk";

/** Seeds to be run until one fails in one of these ways. */
export interface Hunt {
  readonly first: number;
  readonly seeds: number;
  readonly ways: readonly Way[];
  readonly stress?: Stress | undefined;
}

/** The first seed that failed so. */
export interface Found {
  readonly seed: number;
  readonly invariant: string;
  readonly text: string;
}

/** The built program in a process of its own, changed or as it is, which runs seeds as often as it is asked to. */
export class TriedProgram {
  readonly #child: ChildProcess;
  readonly #gone: Promise<unknown[]>;

  /** @param patches what is changed in it; nothing for the program as it is */
  constructor(patches: readonly Patch[]) {
    const script = join(packageRoot(), "dist", "test", "faults", "until-failed.js");
    this.#child = fork(script, [JSON.stringify(patches)], { stdio: ["ignore", "ignore", "inherit", "ipc"] });
    this.#gone = once(this.#child, "exit");
  }

  /** One hunt after the other. @returns null where no seed failed so */
  async hunt(asked: Hunt): Promise<Found | null> {
    const answered = once(this.#child, "message");
    this.#child.send(asked);
    const gone = this.#gone.then(([code, signal]) => {
      throw new Error(`A process of the campaign ended with ${signal ?? code} and no result.`);
    });
    const [found] = (await Promise.race([answered, gone])) as [Found | null];
    return found;
  }

  async end(): Promise<void> {
    if (this.#child.connected) this.#child.disconnect();
    await this.#gone;
  }
}
