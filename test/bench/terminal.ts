import { type ChildProcess, spawn } from "node:child_process";
import { PROGRAM } from "../program.ts";

/** Then it is waited for in vain. */
const LONGEST_WAIT_ms = 120_000;

/** The program on a pseudo-terminal, as util-linux' `script` makes one, and somebody who reads and types. */
export class Terminal {
  readonly #child: ChildProcess;
  readonly ended: Promise<void>;
  #text = "";
  #hears: () => void = () => {};

  /** @param node options of node itself */
  constructor(
    args: readonly string[],
    {
      columns = 80,
      rows = 24,
      node = [],
    }: { columns?: number; rows?: number; node?: readonly string[] } = {},
  ) {
    const command = `stty cols ${columns} rows ${rows}; echo pid=$$; exec '${process.execPath}' ${node.map((it) => `'${it}'`).join(" ")} '${PROGRAM}' ${args.join(" ")}`;
    this.#child = spawn("script", ["-qefc", command, "/dev/null"], { stdio: ["pipe", "pipe", "inherit"] });
    this.#child.stdout?.on("data", (bytes: Buffer) => {
      this.#text += bytes.toString("latin1");
      this.#hears();
    });
    this.ended = new Promise((resolve, reject) => {
      this.#child.once("error", reject);
      this.#child.once("close", () => resolve());
    });
  }

  /** Of the program; known once anything has been waited for. */
  get pid(): number {
    return Number(/pid=(\d+)/.exec(this.#text)?.[1]);
  }

  /** Forgets what has been sent up to and with the text. @throws Error when the program ends without having sent it */
  async waitFor(text: string): Promise<void> {
    await this.waitForOne([text]);
  }

  /** As `waitFor`. @returns which of them came */
  async waitForOne(texts: readonly string[]): Promise<string> {
    const came = () => texts.find((it) => this.#text.includes(it));
    const ended = this.ended.then(() => "ended" as const);
    const late = setTimeout(() => this.#child.kill("SIGKILL"), LONGEST_WAIT_ms);
    while (came() === undefined) {
      const heard = new Promise<"heard">((resolve) => {
        this.#hears = () => resolve("heard");
      });
      if ((await Promise.race([heard, ended])) === "ended" && came() === undefined) {
        throw new Error(`The program ended without having shown ${JSON.stringify(texts)}.`);
      }
    }
    clearTimeout(late);
    const text = came() ?? "";
    const pid = /pid=\d+/.exec(this.#text)?.[0] ?? "";
    this.#text = `${pid}\n${this.#text.slice(this.#text.indexOf(text) + text.length)}`;
    return text;
  }

  type(keys: string): void {
    this.#child.stdin?.write(keys);
  }

  /** To the program, unless it has ended. */
  signal(signal: NodeJS.Signals): void {
    try {
      process.kill(this.pid, signal);
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== "ESRCH") throw error;
    }
  }

  /** Twice Ctrl-C: without waiting. */
  async leave(): Promise<void> {
    this.type("\x03\x03");
    await this.ended;
  }
}
