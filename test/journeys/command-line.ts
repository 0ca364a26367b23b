import { type ChildProcess, spawn } from "node:child_process";
import { createInterface } from "node:readline";
import { PROGRAM } from "../program.ts";

export interface Finished {
  readonly code: number | null;
  readonly stdout: string;
  readonly stderr: string;
}

/**
 * Runs `drumtight` to its end, as a person would type it.
 * @param env besides this process's own: PINs and badges, for instance
 */
export function drumtight(
  args: readonly string[],
  input = "",
  env: Readonly<Record<string, string>> = {},
): Promise<Finished> {
  const child = spawn(process.execPath, [PROGRAM, ...args], {
    stdio: ["pipe", "pipe", "pipe"],
    env: { ...process.env, ...env },
  });
  child.stdin.end(input);
  return finished(child);
}

function finished(child: ChildProcess): Promise<Finished> {
  let stdout = "";
  let stderr = "";
  child.stdout?.setEncoding("utf8").on("data", (text: string) => {
    stdout += text;
  });
  child.stderr?.setEncoding("utf8").on("data", (text: string) => {
    stderr += text;
  });
  return new Promise((resolve, reject) => {
    child.once("error", reject);
    child.once("close", (code) => resolve({ code, stdout, stderr }));
  });
}

export type Event = { readonly event: string } & Readonly<Record<string, unknown>>;

export function events(stdout: string): Event[] {
  return stdout
    .split("\n")
    .filter((line) => line !== "")
    .map((line) => JSON.parse(line) as Event);
}

/** A running `drumtight` whose JSON lines can be waited for. */
export class Running {
  readonly child: ChildProcess;
  readonly ended: Promise<Finished>;
  readonly #seen: Event[] = [];
  readonly #waiting: { wanted: (event: Event) => boolean; resolve: (event: Event) => void }[] = [];

  constructor(args: readonly string[]) {
    this.child = spawn(process.execPath, [PROGRAM, ...args], { stdio: ["pipe", "pipe", "pipe"] });
    this.ended = finished(this.child);
    if (!this.child.stdout) throw new Error("no output to read");
    createInterface({ input: this.child.stdout }).on("line", (line) => {
      const event = JSON.parse(line) as Event;
      this.#seen.push(event);
      for (const waiter of this.#waiting.splice(0)) {
        if (waiter.wanted(event)) waiter.resolve(event);
        else this.#waiting.push(waiter);
      }
    });
  }

  type(line: string): void {
    this.child.stdin?.write(`${line}\n`);
  }

  /** @returns the first event, past or to come, that is wanted; rejects when the program ends without it */
  waitFor(wanted: (event: Event) => boolean): Promise<Event> {
    const seen = this.#seen.find(wanted);
    if (seen) return Promise.resolve(seen);
    return new Promise((resolve, reject) => {
      this.#waiting.push({ wanted, resolve });
      void this.ended.then(({ code, stderr }) => reject(new Error(`ended with ${code}: ${stderr}`)));
    });
  }
}
