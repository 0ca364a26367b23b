import { type ChildProcess, spawn } from "node:child_process";
import { existsSync, readFileSync } from "node:fs";
import { afterEach, describe, expect, it } from "vitest";
import { PROGRAM } from "../program.ts";
import { scratchFolder, travellersIn } from "../records/scratch-folder.ts";

const COMMAND = `exec node '${PROGRAM}' run --simulate --model POD-4`;
const KEYS = "0123456789abcdefghijklmnoprstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ";
const open: Terminal[] = [];

/** The program on a pseudo-terminal of 80 x 24, as util-linux' `script` makes one, and somebody who reads and types. */
class Terminal {
  readonly records = scratchFolder();
  readonly #child: ChildProcess;
  readonly ended: Promise<number | null>;
  #text = "";
  #hears: () => void = () => {};

  constructor(environment: Readonly<Record<string, string>> = {}) {
    const command = `stty cols 80 rows 24; echo pid=$$; ${COMMAND} --records ${this.records}`;
    this.#child = spawn("script", ["-qefc", command, "/dev/null"], {
      stdio: ["pipe", "pipe", "inherit"],
      env: { ...process.env, ...environment },
    });
    this.#child.stdout?.on("data", (bytes: Buffer) => {
      this.#text += bytes.toString("utf8");
      this.#hears();
    });
    this.ended = new Promise((resolve) => {
      this.#child.on("close", (code) => resolve(code));
    });
    open.push(this);
  }

  get pid(): number {
    return Number(/pid=(\d+)/.exec(this.#text)?.[1]);
  }

  /** @returns everything the program has sent, once this is in it */
  async waitFor(pattern: RegExp): Promise<string> {
    while (!pattern.test(this.#text)) {
      await new Promise<void>((resolve) => {
        this.#hears = resolve;
      });
    }
    return this.#text;
  }

  type(keys: string): void {
    this.#child.stdin?.write(keys);
  }

  /** Takes the terminal away, as closing its window does. */
  hangUp(): void {
    this.#child.kill("SIGKILL");
  }

  async startATest(): Promise<void> {
    await this.waitFor(/Read the cautions/);
    this.type("\r");
    await this.waitFor(/Reference check, step 1 of/);
    this.type("\r");
    await this.waitFor(/hands clear/);
    this.type("\r");
    await this.waitFor(/leak: settle/);
  }
}

afterEach(() => {
  for (const terminal of open.splice(0)) terminal.hangUp();
});

describe("the inspector's screen on a real terminal", { timeout: 120_000 }, () => {
  it("is left with q and Enter: a summary, exit code 0, and the terminal as it was", async () => {
    const terminal = new Terminal();
    await terminal.waitFor(/Read the cautions/);
    terminal.type("\r");
    await terminal.waitFor(/Reference check, step 1 of/);
    terminal.type("q\r");
    const text = await terminal.waitFor(/Travellers in/);
    expect(await terminal.ended).toBe(0);
    expect(text).toContain("Tested 0: 0 pass, 0 fail, 0 void.");
    expect(text.lastIndexOf("\x1b[?25h")).toBeGreaterThan(text.lastIndexOf("\x1b[?25l"));
  });

  it.each([
    { CI: "true", CONTINUOUS_INTEGRATION: "1" },
    { TERM: "dumb", NO_COLOR: "1" },
  ])("draws while it runs with %o in its environment", async (environment) => {
    const terminal = new Terminal(environment);
    await terminal.waitFor(/Read the cautions/);
    terminal.type("\r");
    await terminal.waitFor(/Reference check, step 1 of/);
  });

  it("takes an Enter that comes with the first frame, long before the station is open", async () => {
    const terminal = new Terminal();
    const first = await terminal.waitFor(/Read the cautions/);
    expect(first).toContain("the station is being opened");
    terminal.type("\r");
    await terminal.waitFor(/Reference check, step 1 of/);
  });

  it("loses no key of those typed all the while from the first frame on", async () => {
    const terminal = new Terminal();
    await terminal.waitFor(/Read the cautions/);
    let typed = "";
    const typing = setInterval(() => {
      // A line takes 400 characters at most; what comes after is a jammed key.
      const next = typed.length < 390 ? (KEYS[typed.length % KEYS.length] ?? "") : "";
      typed += next;
      terminal.type(next);
    }, 40);
    // So many stand on the screen only after it has taken over.
    await terminal.waitFor(/[0-9A-Za-z]{50}/).finally(() => clearInterval(typing));
    // Of a line that is longer than its row the end is shown.
    await terminal.waitFor(new RegExp(typed.slice(-60)));
  });

  it.each([
    ["Ctrl-C", (terminal: Terminal) => terminal.type("\x03")],
    ["SIGTERM", (terminal: Terminal) => process.kill(terminal.pid, "SIGTERM")],
    ["SIGINT", (terminal: Terminal) => process.kill(terminal.pid, "SIGINT")],
  ])("is left by %s in mid-test with the attempt aborted and recorded", async (_, stop) => {
    const terminal = new Terminal();
    await terminal.startATest();
    stop(terminal);
    expect(await terminal.ended).toBe(0);
    expect(await travellersIn(terminal.records)).toMatchObject([
      { serial: "REF-TIGHT-POD-4", verdict: "void", reasons: [{ code: "PROGRAM_STOPPED" }] },
    ]);
  });

  it("records the attempt also when the terminal goes away", async () => {
    const terminal = new Terminal();
    await terminal.startATest();
    terminal.hangUp();
    await expect
      .poll(() => travellersIn(terminal.records), { timeout: 30_000 })
      .toMatchObject([{ verdict: "void", reasons: [{ code: "PROGRAM_STOPPED" }] }]);
    await expect.poll(() => isRunning(terminal.pid), { timeout: 30_000 }).toBe(false);
  });
});

/** A process that has ended and that nobody has waited for still has its number, in state Z. */
function isRunning(pid: number): boolean {
  const stat = `/proc/${pid}/stat`;
  return existsSync(stat) && !/\) Z/.test(readFileSync(stat, "utf8"));
}
