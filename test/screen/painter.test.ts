import { describe, expect, it } from "vitest";
import { LIVE_MARK } from "../../station/screen/live-mark.ts";
import { Painter } from "../../station/screen/painter.ts";

/** Shows what it is sent, as far as a painter uses a terminal. */
class FakeTerminal {
  columns: number;
  rows: number;
  sent = "";
  #resized: (() => void) | null = null;
  lines: string[] = [];
  #wraps = true;

  constructor(columns: number, rows: number) {
    this.columns = columns;
    this.rows = rows;
  }

  write(text: string): void {
    this.sent += text;
    const modes = text.split("\x1b[?7").slice(1);
    if (modes.length > 0) this.#wraps = modes.at(-1)?.startsWith("h") ?? true;
    // biome-ignore lint/suspicious/noControlCharactersInRegex: what a painter sends
    for (const [, row, line, erases] of text.matchAll(/\x1b\[(\d+);1H([^\x1b]*)(\x1b\[K)?/g)) {
      const old = this.lines[Number(row) - 1] ?? "";
      const rest = erases ? "" : old.slice(line?.length ?? 0);
      this.lines[Number(row) - 1] = `${line}${rest}`.slice(0, this.columns);
      if (this.#wraps) this.#runOver(Number(row), line?.slice(this.columns) ?? "");
    }
  }

  /** Into the rows below; from the last one everything moves up. */
  #runOver(row: number, rest: string): void {
    if (rest === "") return;
    if (row < this.rows) this.lines[row] = rest;
    else this.lines = [...this.lines.slice(1), rest];
  }

  on(_event: "resize", listener: () => void): void {
    this.#resized = listener;
  }

  off(): void {
    this.#resized = null;
  }

  resize(columns: number, rows: number): void {
    Object.assign(this, { columns, rows, lines: Array.from({ length: rows }, () => "rubbish") });
    this.#resized?.();
  }

  get isHeard(): boolean {
    return this.#resized !== null;
  }
}

function opened(columns = 20, rows = 4) {
  const terminal = new FakeTerminal(columns, rows);
  const painter = new Painter(terminal);
  painter.open();
  terminal.sent = "";
  return { terminal, painter };
}

describe("the painter", () => {
  it("shows the newest frame, whatever stood there before", () => {
    const { terminal, painter } = opened();
    painter.write("a long line\nsecond\nthird");
    painter.write("short\nsecond");
    expect(terminal.lines).toEqual(["short", "second", ""]);
  });

  it("writes only what has changed, and nothing for a frame that is the same", () => {
    const { terminal, painter } = opened();
    painter.write("one\ntwo\nthree");
    terminal.sent = "";
    painter.write("one\nTWO\nthree");
    expect(terminal.sent).toBe("\x1b[2;1HTWO\x1b[K");
    terminal.sent = "";
    painter.write("one\nTWO\nthree");
    expect(terminal.sent).toBe("");
  });

  it("never clears the screen between frames", () => {
    const { terminal, painter } = opened();
    for (let k = 0; k < 50; k++) painter.write(`frame ${k}\n${"x".repeat(k % 20)}`);
    terminal.resize(30, 10);
    painter.write("frame 50\nmore");
    // biome-ignore lint/suspicious/noControlCharactersInRegex: the sequences that clear
    expect(terminal.sent).not.toMatch(/\x1b\[[0-3]?J|\x1bc/);
  });

  it("leaves the last character of a full line standing", () => {
    const { terminal, painter } = opened(5, 2);
    painter.write("12345");
    expect(terminal.sent).toBe("\x1b[1;1H12345");
    const coloured = "\x1b[31m12345\x1b[39m";
    painter.write(coloured);
    expect(terminal.sent.endsWith(coloured)).toBe(true);
  });

  it("writes everything again after the size has changed, and tells who draws", () => {
    const { terminal, painter } = opened();
    painter.write("one\ntwo");
    let told = 0;
    painter.on("resize", () => told++);
    terminal.resize(30, 5);
    painter.write("one\ntwo");
    expect(told).toBe(1);
    expect(painter.columns).toBe(30);
    expect(terminal.lines).toEqual(["one", "two", "", "", ""]);
  });

  it("keeps every row in its place when a frame is still as wide as the terminal was", () => {
    const { terminal, painter } = opened(20, 3);
    terminal.resize(10, 3);
    const same = "the same";
    painter.write(`head\n${same}\n${"x".repeat(20)}`);
    painter.write(`head\n${same}\n${"x".repeat(10)}`);
    expect(terminal.lines).toEqual(["head", same, "x".repeat(10)]);
  });

  it("writes no more rows than there are", () => {
    const { terminal, painter } = opened(20, 2);
    painter.write("one\ntwo\nthree");
    expect(terminal.lines).toEqual(["one", "two"]);
  });

  it("paints rows that move over their marks, and they alone from then on", () => {
    const { terminal, painter } = opened();
    let value = 1;
    painter.drawLive = () => [`value ${value}`, "more"];
    painter.write(`head\n ${LIVE_MARK}\n ${LIVE_MARK}\nfoot`);
    expect(terminal.lines).toEqual(["head", " value 1", " more", "foot"]);
    terminal.sent = "";
    value = 2;
    painter.paintLive();
    expect(terminal.sent).toBe("\x1b[2;1H value 2\x1b[K");
    painter.write("head\nstill\nstill\nfoot");
    terminal.sent = "";
    painter.paintLive();
    expect(terminal.sent).toBe("");
  });

  it("paints nothing that moves between a change of size and the frame for it", () => {
    const { terminal, painter } = opened();
    painter.drawLive = () => ["value"];
    painter.write(`head\n ${LIVE_MARK}`);
    terminal.resize(30, 5);
    terminal.sent = "";
    painter.paintLive();
    expect(terminal.sent).toBe("");
  });

  it("gives the terminal back once, and is silent then", () => {
    const { terminal, painter } = opened();
    painter.close();
    expect(terminal.sent).toBe("\x1b[?7h\x1b[?25h\x1b[?1049l");
    painter.close();
    painter.write("late");
    expect(terminal.sent).toBe("\x1b[?7h\x1b[?25h\x1b[?1049l");
    expect(terminal.isHeard).toBe(false);
  });
});
