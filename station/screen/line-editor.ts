import type { Key } from "./keys.ts";

/** A line being typed, and where in it the next character goes. May hold a PIN or a badge: never part of what is drawn. */
export interface Line {
  readonly text: string;
  /** In characters (code points) from its beginning. */
  readonly cursor: number;
}

export const NO_LINE: Line = { text: "", cursor: 0 };

/** Longer than any label; what comes after is a jammed scanner. */
const LONGEST_LINE = 400;

/**
 * @returns the line after a key that edits it; unchanged after any other
 * @example edited({ text: "POD1", cursor: 3 }, { kind: "text", text: "2" }) // { text: "POD21", cursor: 4 }
 */
export function edited(line: Line, key: Key): Line {
  const characters = [...line.text];
  const at = Math.min(line.cursor, characters.length);
  const before = characters.slice(0, at);
  const after = characters.slice(at);
  switch (key.kind) {
    case "text": {
      const room = Math.max(0, LONGEST_LINE - characters.length);
      return lineOf([...before, ...[...key.text].slice(0, room)], after);
    }
    case "backspace":
      return lineOf(before.slice(0, -1), after);
    case "delete":
      return lineOf(before, after.slice(1));
    case "left":
      return { ...line, cursor: Math.max(0, at - 1) };
    case "right":
      return { ...line, cursor: Math.min(characters.length, at + 1) };
    case "home":
      return { ...line, cursor: 0 };
    case "end":
      return { ...line, cursor: characters.length };
    case "erase_line":
      return NO_LINE;
    default:
      return line;
  }
}

function lineOf(before: readonly string[], after: readonly string[]): Line {
  return { text: [...before, ...after].join(""), cursor: before.length };
}
