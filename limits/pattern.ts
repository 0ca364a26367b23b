import type { Parsed } from "./quantity.ts";

const MOST_CHARACTERS = 200;
const MOST_REPEATS = 64;
const MOST_WAYS = 10_000;

/**
 * Reads the pattern of a serial or part number: a regular expression that must match the whole text and cannot
 * be made to run for long. Allowed are literals, `.`, character classes, groups with alternatives, `?`, `{n}`
 * and `{n,m}`; not `*`, `+`, `{n,}`, look-around and back references. A scan can come from anybody's label, and
 * backtracking can visit no more ways through such a pattern than the product of its choices.
 * @example readPattern("^TUB[0-9]{6}$") // { ok: true, value: /^TUB[0-9]{6}$/u }
 */
export function readPattern(text: string): Parsed<RegExp> {
  const refuse = (expected: string, hint?: string): Parsed<RegExp> => ({
    ok: false,
    found: JSON.stringify(text.length > 80 ? `${text.slice(0, 77)}...` : text),
    expected,
    ...(hint === undefined ? {} : { hint }),
  });
  if (text.length > MOST_CHARACTERS) return refuse(`a pattern of at most ${MOST_CHARACTERS} characters`);
  if (!text.startsWith("^") || !/(?:^|[^\\])(?:\\\\)*\$$/.test(text)) {
    return refuse('a pattern for the whole text, like "^TUB[0-9]{6}$"', "start it with ^ and end it with $");
  }
  let pattern: RegExp;
  try {
    pattern = new RegExp(text, "u");
  } catch (error) {
    const reason = error instanceof Error ? error.message.replace(/^.*: /s, "") : String(error);
    return refuse("a regular expression", reason);
  }
  const fault = faultOf(text.slice(1, -1));
  return fault === undefined ? { ok: true, value: pattern } : refuse(...fault);
}

type Fault = readonly [expected: string, hint?: string];

/** Why the inside of an anchored, valid pattern is not bounded. */
function faultOf(inside: string): Fault | undefined {
  const tokens = inside.match(/\\[\s\S]|\[(?:\\[\s\S]|[^\]\\])*\]|\{[^}]*\}|\(\?:|[\s\S]/gu) ?? [];
  let depth = 0;
  let ways = 1;
  let previous = "";
  for (const token of tokens) {
    const repeat = /^\{(\d+)(?:,(\d*))?\}$/.exec(token);
    if (token === "*" || token === "+" || repeat?.[2] === "") {
      return ["a bounded number of repeats, like {6} or {1,8}", `${token} has no upper end`];
    }
    if (repeat) {
      const fewest = Number(repeat[1]);
      const most = Number(repeat[2] ?? repeat[1]);
      if (most > MOST_REPEATS) return [`at most ${MOST_REPEATS} repeats`, token];
      if (previous === ")") return ["repeats of single characters only", `${token} repeats a group`];
      ways *= most - fewest + 1;
    }
    if (token === "?" && previous === "(")
      return ["plain groups only", "look-around and named groups are refused"];
    if (token === "?" && !previous.startsWith("{") && previous !== "?") ways *= 2;
    if (/^\\[1-9k]/.test(token)) return ["no back references", token];
    if (token === "^" || token === "$")
      return [`${token} at the ends only`, `write \\${token} for the character`];
    if (token === "(" || token === "(?:") depth++;
    if (token === ")") depth--;
    if (token === "|") {
      if (depth === 0) return ["alternatives inside a group", "write ^(A|B)$ instead of ^A|B$"];
      ways *= 2;
    }
    previous = token;
  }
  return ways > MOST_WAYS ? ["fewer choices in one pattern", `up to ${ways} ways to match`] : undefined;
}
