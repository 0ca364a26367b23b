import { type HeardBytes, legibilityOf } from "./heard-bytes.ts";

export type LineEnd = "LF" | "CR" | "CRLF";

export interface HeardLine {
  /** Without its end; latin1, so that every byte survives. */
  readonly text: string;
  /** When its last byte came. */
  readonly at_s: number;
}

export interface HeardLines {
  /** Null where nothing that ends a line has come. */
  readonly end: LineEnd | null;
  readonly lines: readonly HeardLine[];
  /** What came after the last end. */
  readonly rest: string;
}

/**
 * A port far too slow makes a few bytes of many, and these can be text with a line's end by chance: "(\r" of six lines.
 * Two answers of one digit are as long.
 */
const LEAST_SAID = 6;

/**
 * Whether what came is text in lines. A few bytes are printable by chance under any settings, and so is much of what
 * seven data bits can be; not a line's end among enough of them.
 * @example isSaid([{ bytes: Buffer.from("1.52\r\n"), at_s: 0 }]) // true
 */
export function isSaid(heard: readonly HeardBytes[]): boolean {
  const bytes = Buffer.concat(heard.map((one) => one.bytes));
  return (
    bytes.length >= LEAST_SAID &&
    legibilityOf(bytes).kind === "text" &&
    splitLines(heard, false).lines.length > 0
  );
}

/**
 * Splits what came into lines, by the line end that its bytes show.
 * @param isCutIn the listening began anywhere, so that what came before the first end may be half a line and is left out
 * @example splitLines([{ bytes: Buffer.from("1.5\r\n1.6\r\n"), at_s: 0 }], false).end // "CRLF"
 */
export function splitLines(heard: readonly HeardBytes[], isCutIn: boolean): HeardLines {
  const end = lineEndOf(heard);
  if (end === null) return { end, lines: [], rest: textOf(heard) };
  const mark = end === "CR" ? "\r" : "\n";
  const lines: HeardLine[] = [];
  let rest = "";
  for (const { bytes, at_s } of heard) {
    const parts = (rest + bytes.toString("latin1")).split(mark);
    rest = parts.pop() ?? "";
    for (const part of parts) lines.push({ text: end === "CR" ? part : part.replace(/\r$/, ""), at_s });
  }
  return { end, lines: (isCutIn ? lines.slice(1) : lines).filter(({ text }) => text !== ""), rest };
}

/** CRLF only where every LF has its CR: a single one without is a line that would otherwise be glued to another. */
function lineEndOf(heard: readonly HeardBytes[]): LineEnd | null {
  const text = textOf(heard);
  const lineFeeds = count(text, "\n");
  const returns = count(text, "\r");
  if (lineFeeds === 0) return returns === 0 ? null : "CR";
  return count(text, "\r\n") === lineFeeds ? "CRLF" : "LF";
}

function textOf(heard: readonly HeardBytes[]): string {
  return Buffer.concat(heard.map(({ bytes }) => bytes)).toString("latin1");
}

function count(text: string, part: string): number {
  return text.split(part).length - 1;
}
