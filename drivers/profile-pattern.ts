import { NRF_PATTERN } from "./nrf.ts";

export type Compiled =
  | { readonly ok: true; readonly pattern: RegExp }
  | { readonly ok: false; readonly expected: string };

/**
 * Compiles a pattern of a profile. `{number}` stands for a number as IEEE 488.2 allows it (NRf).
 * @example compilePattern("^(?<suction>{number});(?<flow>{number})$")
 */
export function compilePattern(text: string): Compiled {
  if (!text.startsWith("^") || !text.endsWith("$") || text.endsWith("\\$")) {
    return { ok: false, expected: "a pattern for the whole line, from ^ to $" };
  }
  if (repeatsChoices(text)) {
    return {
      ok: false,
      expected: "a pattern without a repeated group inside which something repeats or has alternatives",
    };
  }
  let pattern: RegExp;
  try {
    // The parentheses keep an alternative at the top from escaping the anchors.
    const inner = text.slice(1, -1).replaceAll("{number}", NRF_PATTERN);
    pattern = new RegExp(`^(?:${inner})$`, "u");
  } catch (error) {
    const why = error instanceof Error ? error.message.replace(/^.*\/u: /, "") : String(error);
    return { ok: false, expected: `a regular expression that can be read (${why})` };
  }
  if (refusesQuickly(pattern, literalBeginning(text))) return { ok: true, pattern };
  const expected = "a pattern in which each piece of a line can be taken by one part of it only";
  return {
    ok: false,
    expected: `${expected}: this one tries so many ways that a bad line would hold up the station`,
  };
}

/** Names of the named groups in a pattern, in order. */
export function groupNames(pattern: RegExp): string[] {
  const match = new RegExp(`${pattern.source}|`, "u").exec("");
  return Object.keys(match?.groups ?? {});
}

/**
 * Whether a group that repeats something, or has alternatives, is itself repeated, at whatever depth: it can take
 * longer over one line than the station lives.
 */
function repeatsChoices(text: string): boolean {
  const tokens = text.match(/\\.|\[(?:\\.|[^\]\\])*\]|\{number\}|\{\d+(?:,\d*)?\}|./gsu) ?? [];
  const open = [false];
  for (const [i, token] of tokens.entries()) {
    const isRepeat = token === "*" || token === "+" || /^\{/.test(token);
    if (token === "(") open.push(false);
    else if (token === ")" && open.length > 1) {
      const hasChoices = open.pop() ?? false;
      const next = tokens[i + 1] ?? "";
      if (hasChoices && /^(?:[*+]|\{\d)/.test(next)) return true;
      if (hasChoices) open[open.length - 1] = true;
    } else if (isRepeat || token === "|") open[open.length - 1] = true;
  }
  return false;
}

/** Lines of one thing over and over, which a pattern that is unclear about it takes apart in every way there is. */
const REPEATED = ["1", "a", "A", "x", " ", ".", ",", "-", "0.", "1,", "a ", "ab"];
const LONGEST = 256;
/** A thousand times what a line of this length takes with a clear pattern. */
const MOST_ms = 50;

function refusesQuickly(pattern: RegExp, beginning: string): boolean {
  // From short to long: each is slower than the one before, and the first that is slow is slow enough.
  for (let length = 8; length <= LONGEST; length += 8) {
    for (const piece of REPEATED) {
      const line = `${beginning}${piece.repeat(length / piece.length)}\0`;
      if (isSlow(pattern, line)) return false;
    }
  }
  return true;
}

/** Slow once may be a busy computer; three times is the pattern. */
function isSlow(pattern: RegExp, line: string): boolean {
  for (let attempt = 0; attempt < 3; attempt++) {
    const begun_ms = performance.now();
    pattern.test(line);
    if (performance.now() - begun_ms < MOST_ms) return false;
  }
  return true;
}

/** What every line that fits begins with, as far as the pattern's text says it letter by letter. */
function literalBeginning(text: string): string {
  const [literal = ""] = /^\^((?:[\w =:;,#@!%&'"<>~-]|\\[^\w\s])*)/.exec(text)?.slice(1) ?? [];
  // A repeat sign behind the last letter makes that one no part of it.
  const next = text[literal.length + 1] ?? "";
  const whole = "*+?{".includes(next) && next !== "" ? literal.replace(/(?:\\.|[^\\])$/, "") : literal;
  return whole.replace(/\\(.)/g, "$1");
}
