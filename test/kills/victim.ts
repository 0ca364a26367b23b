import { type ChildProcess, spawn } from "node:child_process";
import { createInterface } from "node:readline";
import { PROGRAM } from "../program.ts";

/** An event of `run --json`. */
export type Told = { readonly event: string } & Readonly<Record<string, unknown>>;

export interface Ending {
  readonly code: number | null;
  readonly signal: NodeJS.Signals | null;
  readonly stderr: string;
}

/** A `drumtight run --json` that may end at any moment, in the middle of a line too. */
export class Victim {
  readonly told: Told[] = [];
  readonly ended: Promise<Ending>;
  readonly #child: ChildProcess;
  readonly #listeners = new Set<(told: Told) => void>();

  /**
   * @param nodeOptions for node itself, as `--import`
   * @param program another one than drumtight
   */
  constructor(args: readonly string[], nodeOptions: readonly string[] = [], program = PROGRAM) {
    this.#child = spawn(process.execPath, [...nodeOptions, program, ...args], {
      stdio: ["pipe", "pipe", "pipe"],
    });
    const { stdin, stdout, stderr } = this.#child;
    if (!stdin || !stdout || !stderr) throw new Error("A victim without standard streams.");
    // Nobody reads any more once it is dead.
    stdin.on("error", () => {});
    createInterface({ input: stdout }).on("line", (line) => this.#hear(line));
    let complaints = "";
    stderr.setEncoding("utf8").on("data", (text: string) => {
      complaints += text;
    });
    this.ended = new Promise((resolve, reject) => {
      this.#child.once("error", reject);
      this.#child.once("close", (code, signal) => resolve({ code, signal, stderr: complaints }));
    });
  }

  type(line: string): void {
    this.#child.stdin?.write(`${line}\n`);
  }

  endInput(): void {
    this.#child.stdin?.end();
  }

  signal(signal: NodeJS.Signals): void {
    this.#child.kill(signal);
  }

  /** Resolves at the first event that is wanted, told already or to come; never if it does not come. */
  heard(wanted: (told: Told) => boolean): Promise<Told> {
    const before = this.told.find(wanted);
    return before ? Promise.resolve(before) : this.next(wanted);
  }

  /** As `heard`, of events to come only. */
  next(wanted: (told: Told) => boolean): Promise<Told> {
    return new Promise((resolve) => {
      const listener = (told: Told) => {
        if (!wanted(told)) return;
        this.#listeners.delete(listener);
        resolve(told);
      };
      this.#listeners.add(listener);
    });
  }

  /** Types a line and waits for the next event of this kind. @throws Error when the program ends instead */
  ask(line: string, event: string): Promise<Told> {
    const answer = this.next((told) => told.event === event);
    this.type(line);
    return this.unlessEnded(answer);
  }

  /** @throws Error when the program ends first */
  unlessEnded<T>(happens: Promise<T>): Promise<T> {
    return Promise.race([
      happens,
      this.ended.then(({ code, stderr }) => {
        throw new Error(`The program ended with ${code}: ${stderr}`);
      }),
    ]);
  }

  #hear(line: string): void {
    const told = parsed(line);
    if (!told) return;
    this.told.push(told);
    for (const listener of [...this.#listeners]) listener(told);
  }
}

/** @returns null for a line that was cut off by the kill */
function parsed(line: string): Told | null {
  try {
    return JSON.parse(line) as Told;
  } catch {
    return null;
  }
}
