import { CAUTIONS } from "./cautions-text.ts";
import { Painter } from "./painter.ts";
import { wrapWords } from "./wrap-words.ts";

const CTRL_C = "\x03";
/** As the shell reports a program ended by SIGINT. */
const INTERRUPTED_EXIT = 130;
const ENDING = ["SIGINT", "SIGTERM", "SIGHUP"] as const;

/** The terminal from the first moment on, before the station and what draws its screen are loaded. */
export interface FirstFrame {
  readonly painter: Painter;
  /** Somebody else draws from now on, and the first who listens to the keys first hears what was typed meanwhile. */
  handOver(): void;
  /** Gives the terminal back as it was. */
  close(): void;
}

/**
 * Draws the cautions at once and keeps what is typed meanwhile. Nothing heavy may be imported here: the frame must stand
 * before anybody wonders whether the program has started.
 */
export function drawFirstFrame(): FirstFrame {
  const { stdin, stdout } = process;
  const painter = new Painter(stdout);
  const typed: Buffer[] = [];
  const heard = (chunk: Buffer | string) => {
    if (chunk.includes(CTRL_C)) process.exit(INTERRUPTED_EXIT);
    typed.push(Buffer.from(chunk));
  };
  const ended = () => process.exit(INTERRUPTED_EXIT);
  const listenNoMore = () => {
    for (const signal of ENDING) process.off(signal, ended);
    painter.off("resize", draw);
  };
  // Not a moment between two listeners: what is typed in it would be lost.
  const passOn = (event: string | symbol) => {
    if (event !== "data") return;
    stdin.off("newListener", passOn);
    stdin.off("data", heard);
    if (typed.length > 0) stdin.unshift(Buffer.concat(typed).toString("utf8"), "utf8");
  };
  const close = () => {
    listenNoMore();
    stdin.off("newListener", passOn);
    stdin.off("data", heard);
    process.off("exit", close);
    process.off("uncaughtExceptionMonitor", close);
    stdin.setRawMode(false);
    painter.close();
  };
  const draw = () => {
    painter.write(firstRows(painter.columns, painter.rows).join("\n"));
  };
  process.on("exit", close);
  // What is said of a crash would go down with the alternate screen.
  process.on("uncaughtExceptionMonitor", close);
  for (const signal of ENDING) process.on(signal, ended);
  stdin.setRawMode(true);
  stdin.on("data", heard);
  painter.on("resize", draw);
  painter.open();
  draw();
  return {
    painter,
    handOver() {
      listenNoMore();
      stdin.on("newListener", passOn);
    },
    close,
  };
}

/**
 * As the screen lays out its page of cautions, so that they stand still when it takes over.
 * @returns the lines of the first frame, none wider than the terminal, no more than it has rows
 */
export function firstRows(columns: number, rows: number): readonly string[] {
  const width = Math.max(10, columns - 2);
  const inFrame = (text: string) => `│ ${text.padEnd(width - 4)} │`;
  const lines = [
    "drumtight   the station is being opened",
    "",
    `┌${"─".repeat(width - 2)}┐`,
    ...["Read the cautions, then press Enter.", ""].map(inFrame),
    `└${"─".repeat(width - 2)}┘`,
    "Cautions",
    ...CAUTIONS.flatMap((caution) => wrapWords(`- ${caution}`, width, "  ")),
  ];
  return lines.slice(0, rows).map((line) => (line === "" ? "" : ` ${line}`.slice(0, columns)));
}
