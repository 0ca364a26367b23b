import { execFile } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { promisify } from "node:util";
import { onTestFinished } from "vitest";
import { PROGRAM } from "../../program.ts";

const run = promisify(execFile);
const LOOK_EVERY_ms = 40;
/** Far beyond what anything takes on a busy machine; only a screen that never shows it gets there. */
const DEADLINE_ms = 90_000;

/** What is said nowhere else: one screen of 24 rows for the program, the frame kept when it ends. */
const TMUX_CONF = `
set -g status off
set -g remain-on-exit on
set -g default-terminal tmux-256color
set -g history-limit 0
set -s escape-time 0
`;

export interface TmuxOptions {
  /** Arguments of `drumtight`. */
  readonly args: readonly string[];
  readonly columns?: number;
  readonly rows?: number;
  readonly environment?: Readonly<Record<string, string>>;
}

let count = 0;

/** The compiled program in a terminal of its own, a person who looks at it, and the keys. Ends with the test. */
export class TmuxScreen {
  readonly #socket: string;
  readonly #folder: string;

  private constructor(socket: string, folder: string) {
    this.#socket = socket;
    this.#folder = folder;
  }

  static async open({ args, columns = 80, rows = 24, environment = {} }: TmuxOptions): Promise<TmuxScreen> {
    const folder = mkdtempSync(join(tmpdir(), "drumtight-tmux-"));
    const conf = join(folder, "tmux.conf");
    writeFileSync(conf, TMUX_CONF);
    const screen = new TmuxScreen(`drumtight-${process.pid}-${count++}`, folder);
    onTestFinished(() => screen.#close());
    await screen.#tmux([
      "-u",
      "-f",
      conf,
      "new-session",
      "-d",
      "-x",
      String(columns),
      "-y",
      String(rows),
      // Whatever the one who runs the tests has set must not reach the program.
      "env",
      "-i",
      ...Object.entries({ ...BARE_ENVIRONMENT, TERM: "tmux-256color", ...environment }).map(
        ([name, value]) => `${name}=${value}`,
      ),
      process.execPath,
      PROGRAM,
      ...args,
    ]);
    return screen;
  }

  /** What stands on the screen, a line a row, blanks at the ends of lines left out. */
  async shown(): Promise<string> {
    return (await this.#look()).shown;
  }

  /** The same with the escape sequences of its colours. */
  async shownInColour(): Promise<string> {
    return this.#tmux(["capture-pane", "-p", "-e"]);
  }

  /**
   * Looks until all of these stand on the screen at once.
   * @returns the screen as it was then
   */
  async until(...wanted: readonly (RegExp | string)[]): Promise<string> {
    const deadline = Date.now() + DEADLINE_ms;
    for (;;) {
      const { shown, exitCode } = await this.#look();
      const flat = flattened(shown);
      const missing = wanted.filter((what) => !isIn(shown, flat, what));
      if (missing.length === 0) return shown;
      if (Date.now() > deadline || exitCode !== null) {
        const end = exitCode === null ? "" : ` The program has ended with ${exitCode}.`;
        throw new Error(`Never saw ${missing.map(String).join(", ")}.${end} The screen is:\n${shown}`);
      }
      await new Promise((done) => setTimeout(done, LOOK_EVERY_ms));
    }
  }

  /**
   * Looks until what stands there, frames and line ends left out, is what somebody waits for.
   * @returns it, as text without frames and line ends
   */
  async look(isIt: (flat: string) => boolean): Promise<string> {
    const deadline = Date.now() + DEADLINE_ms;
    for (;;) {
      const shown = await this.shown();
      const flat = flattened(shown);
      if (isIt(flat)) return flat;
      if (Date.now() > deadline) throw new Error(`It never came. The screen is:\n${shown}`);
      await new Promise((done) => setTimeout(done, LOOK_EVERY_ms));
    }
  }

  /** Types characters as they are. */
  async type(text: string): Promise<void> {
    await this.#tmux(["send-keys", "-l", text]);
  }

  /** Presses keys by tmux' names for them: "Enter", "Escape", "F1", "C-c". */
  async press(...keys: readonly string[]): Promise<void> {
    await this.#tmux(["send-keys", ...keys]);
  }

  /** What a scanner does: the characters at once, then Enter. */
  async scan(line: string): Promise<void> {
    await this.#tmux(["send-keys", "-l", line, ";", "send-keys", "Enter"]);
  }

  async resize(columns: number, rows: number): Promise<void> {
    await this.#tmux(["resize-window", "-x", String(columns), "-y", String(rows)]);
  }

  /** Once the program has ended. @returns its exit code and the last screen */
  async ended(): Promise<{ code: number; shown: string }> {
    const deadline = Date.now() + DEADLINE_ms;
    for (;;) {
      const { shown, exitCode } = await this.#look();
      if (exitCode !== null) return { code: exitCode, shown };
      if (Date.now() > deadline) throw new Error(`The program has not ended. The screen is:\n${shown}`);
      await new Promise((done) => setTimeout(done, LOOK_EVERY_ms));
    }
  }

  async #look(): Promise<{ shown: string; exitCode: number | null }> {
    const text = await this.#tmux([
      "display-message",
      "-p",
      "#{pane_dead} #{pane_dead_status}",
      ";",
      "capture-pane",
      "-p",
    ]);
    const [first = "", ...rows] = text.split("\n");
    const [isDead, code] = first.split(" ");
    return { shown: rows.join("\n"), exitCode: isDead === "1" ? Number(code) : null };
  }

  async #tmux(args: readonly string[]): Promise<string> {
    const { stdout } = await run("tmux", ["-L", this.#socket, ...args], {
      // Its socket goes away with the folder.
      env: { ...BARE_ENVIRONMENT, TMUX_TMPDIR: this.#folder },
    });
    return stdout;
  }

  async #close(): Promise<void> {
    await this.#tmux(["kill-server"]).catch(() => undefined);
    rmSync(this.#folder, { recursive: true, force: true });
  }
}

const BARE_ENVIRONMENT: Readonly<Record<string, string>> = {
  PATH: process.env.PATH ?? "",
  HOME: tmpdir(),
  LANG: "C.UTF-8",
  TZ: "UTC",
};

/**
 * Sentences as they are read, without frames and line ends: they stand in frames, or beside a word in blocks, which
 * is left out of the rows it shares with them.
 */
function flattened(shown: string): string {
  return shown
    .replace(BLOCK_BESIDE, " ")
    .replace(/[\u2500-\u257f]/g, " ")
    .replace(/\s+/g, " ");
}

const BLOCK_BESIDE = /^ *(?:[┃║│|].*?[┃║│|]|[┏╔╭┌+][━═─-]+[┓╗╮┐+]|[┗╚╰└+][━═─-]+[┛╝╯┘+])(?= {2}\S)/gm;

/** A pattern of whole rows (flag m) is looked for in the rows, anything else in what is read. */
function isIn(shown: string, flat: string, what: RegExp | string): boolean {
  if (typeof what === "string") return flat.includes(what);
  return what.multiline ? what.test(shown) : what.test(flat);
}
