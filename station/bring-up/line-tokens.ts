import { unitHint } from "./unit-hint.ts";

/** A piece of a line that stands for itself. */
export interface Token {
  readonly kind: "number" | "unit" | "word" | "space" | "mark";
  readonly text: string;
  /** Spaces before a number, which pad it. */
  readonly lead: string;
}

const NUMBER = /(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?/y;
const SIGNED = /[+-](?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?/y;
const SPACES = /[ \t]+/y;
const UNIT = /[A-Za-z%\xb0\xb5][A-Za-z0-9%\xb0\xb5\xb2\xb3/]*/y;
const WORD = /[A-Za-z_]+/y;
/** Such as ---- in a number's place. */
const RUN = /([-*?#.])\1+/y;

/**
 * Cuts a line into numbers, units, words, spaces and single marks. A sign belongs to its number unless it stands
 * right behind another one, as in a date.
 * @example tokensOf("P= -79.98 hPa").map(({ kind }) => kind) // word, mark, number, space, unit
 */
export function tokensOf(line: string): Token[] {
  const tokens: Token[] = [];
  let lead = "";
  for (let at = 0; at < line.length; ) {
    const last = tokens.at(-1);
    const number =
      (last?.kind === "number" && lead === "" ? undefined : match(SIGNED, line, at)) ??
      match(NUMBER, line, at);
    if (number !== undefined) {
      tokens.push({ kind: "number", text: number, lead });
      lead = "";
      at += number.length;
      continue;
    }
    if (lead !== "") {
      tokens.push({ kind: "space", text: lead, lead: "" });
      lead = "";
      continue;
    }
    const spaces = match(SPACES, line, at);
    if (spaces !== undefined) {
      lead = spaces;
      at += spaces.length;
      continue;
    }
    const token = other(line, at, tokens);
    tokens.push(token);
    at += token.text.length;
  }
  if (lead !== "") tokens.push({ kind: "space", text: lead, lead: "" });
  return tokens;
}

/** What two lines have in common that are read by one pattern; numbers, words and widths may differ. */
export function shapeOf(tokens: readonly Token[]): string {
  return tokens
    .map(({ kind, text }) => {
      if (kind === "mark") return `m${text}`;
      // A gauge that changes its unit says something else.
      return kind === "unit" ? `u${text}` : kind;
    })
    .join("\n");
}

function other(line: string, at: number, before: readonly Token[]): Token {
  const unit = match(UNIT, line, at);
  if (unit !== undefined && followsNumber(before) && unitHint(unit) !== null) {
    return { kind: "unit", text: unit, lead: "" };
  }
  const word = match(WORD, line, at) ?? match(RUN, line, at);
  if (word !== undefined) return { kind: "word", text: word, lead: "" };
  return { kind: "mark", text: line[at] ?? "", lead: "" };
}

function followsNumber(before: readonly Token[]): boolean {
  const last = before.at(-1);
  return last?.kind === "number" || (last?.kind === "space" && before.at(-2)?.kind === "number");
}

function match(pattern: RegExp, line: string, at: number): string | undefined {
  pattern.lastIndex = at;
  return pattern.exec(line)?.[0];
}
