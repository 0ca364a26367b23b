import { EventEmitter } from "node:events";
import { LIVE_MARK } from "./live-mark.ts";

/** A terminal that can be written to; process.stdout is one. */
export interface Terminal {
  readonly columns?: number;
  readonly rows?: number;
  write(text: string): unknown;
  on(event: "resize", listener: () => void): unknown;
  off(event: "resize", listener: () => void): unknown;
}

// The alternate screen keeps what stood on the terminal before, and gives it back. Private mode 7 (DEC STD 070, autowrap)
// is off meanwhile: a frame still as wide as the terminal was a moment ago would run over into the rows below and scroll
// them, and rows that are the same in the next frame would not be written again.
const ENTER = "\x1b[?1049h\x1b[?25l\x1b[?7l\x1b[H\x1b[2J";
const LEAVE = "\x1b[?7h\x1b[?25h\x1b[?1049l";
const ERASE_TO_END_OF_LINE = "\x1b[K";
// biome-ignore lint/suspicious/noControlCharactersInRegex: what colours are made of
const STYLE = /\x1b\[[0-9;]*m/g;

/**
 * The whole terminal, to be painted frame after frame. Only lines that differ from the frame before are written, each over
 * the old one: nothing is cleared in between, so that nothing flickers. To Ink it is the stream that takes its frames.
 */
export class Painter extends EventEmitter {
  readonly #terminal: Terminal;
  #shown: readonly string[] = [];
  /** Rows of the newest frame that are painted without it. */
  #liveRows: readonly number[] = [];
  /** @returns as many rows as the newest frame has marks */
  drawLive: () => readonly string[] = () => [];
  #isOpen = false;

  constructor(terminal: Terminal) {
    super();
    this.#terminal = terminal;
  }

  get columns(): number {
    return this.#terminal.columns || 80;
  }

  get rows(): number {
    return this.#terminal.rows || 24;
  }

  open(): void {
    if (this.#isOpen) return;
    this.#isOpen = true;
    this.#terminal.write(ENTER);
    this.#terminal.on("resize", this.#resized);
  }

  /** Gives the terminal back as it was. */
  close(): void {
    if (!this.#isOpen) return;
    this.#isOpen = false;
    this.#terminal.off("resize", this.#resized);
    this.#shown = [];
    this.#liveRows = [];
    this.#terminal.write(LEAVE);
  }

  /** A frame, lines divided by "\n". @returns true, as streams do that take more */
  write(frame: string): boolean {
    if (!this.#isOpen || frame === "") return true;
    const frameLines = frame.split("\n").slice(0, this.rows);
    this.#liveRows = frameLines.flatMap((line, row) => (line.includes(LIVE_MARK) ? [row] : []));
    this.#paint(this.#withLive(frameLines));
    return true;
  }

  /** Paints the rows that move anew over their marks in the newest frame; nothing where it has none. */
  paintLive(): void {
    if (this.#isOpen && this.#liveRows.length > 0) this.#paint(this.#withLive(this.#shown));
  }

  /** In the column in which the frame has its marks. */
  #withLive(lines: readonly string[]): readonly string[] {
    if (this.#liveRows.length === 0) return lines;
    const live = this.drawLive();
    const mixed = [...lines];
    for (const [i, row] of this.#liveRows.entries()) mixed[row] = ` ${live[i] ?? ""}`.trimEnd();
    return mixed;
  }

  #paint(lines: readonly string[]): void {
    let out = "";
    for (let row = 0; row < Math.max(lines.length, this.#shown.length); row++) {
      const line = lines[row] ?? "";
      if (line !== this.#shown[row]) out += this.#painted(line, row);
    }
    this.#shown = lines;
    if (out !== "") this.#terminal.write(out);
  }

  /** A line that fills its row leaves the cursor on its last character, which erasing would take away. */
  #painted(line: string, row: number): string {
    const isFull = line.replace(STYLE, "").length >= this.columns;
    return `\x1b[${row + 1};1H${line}${isFull ? "" : ERASE_TO_END_OF_LINE}`;
  }

  // What a terminal keeps of its lines when its size changes is its own affair: all of them are written again.
  readonly #resized = (): void => {
    this.#shown = Array.from({ length: this.rows }, () => "\x1b");
    this.#liveRows = [];
    this.emit("resize");
  };
}
