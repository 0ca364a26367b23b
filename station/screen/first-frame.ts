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
  /** From now on somebody else listens to the keys; what was typed meanwhile is the first that they hear. */
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
  const heard = (chunk: Buffer) => {
    if (chunk.includes(CTRL_C)) process.exit(INTERRUPTED_EXIT);
    typed.push(chunk);
  };
  const ended = () => process.exit(INTERRUPTED_EXIT);
  const listenNoMore = () => {
    for (const signal of ENDING) process.off(signal, ended);
    painter.off("resize", draw);
    stdin.off("data", heard);
  };
  const close = () => {
    listenNoMore();
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
      stdin.pause();
      if (typed.length > 0) stdin.unshift(Buffer.concat(typed));
    },
    close,
  };
}

/** @returns the lines of the first frame, none wider than the terminal, no more than it has rows */
export function firstRows(columns: number, rows: number): readonly string[] {
  const width = Math.max(10, columns - 2);
  const lines = [
    "drumtight   the station is being opened",
    "",
    ...wrapWords("Read the cautions, then press Enter.", width),
    "",
    "Cautions",
    ...CAUTIONS.flatMap((caution) => wrapWords(`- ${caution}`, width, "  ")),
  ];
  return lines.slice(0, rows).map((line) => (line === "" ? "" : ` ${line}`.slice(0, columns)));
}
