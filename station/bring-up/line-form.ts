import type { HeardLine } from "./heard-lines.ts";
import { shapeOf, type Token, tokensOf } from "./line-tokens.ts";
import { counterModulus, isCounter, timeUnit } from "./moving-numbers.ts";
import { numberPattern } from "./number-pattern.ts";
import { type UnitHint, unitHint } from "./unit-hint.ts";

/** A number on the line that may be a measured value. */
export interface ValueField {
  /** Its group in the pattern. */
  readonly group: string;
  /** The word in front of it; "" for none. */
  readonly label: string;
  readonly unit: UnitHint | null;
  readonly texts: readonly string[];
}

/** What an instrument's lines have in common. */
export interface LineForm {
  /** Of the whole line, anchored, as a profile's `reply`. */
  readonly pattern: string;
  readonly values: readonly ValueField[];
  readonly sequence: { readonly group: string; readonly modulus: number; readonly isSure: boolean } | null;
  readonly time: { readonly group: string; readonly unit: "s" | "ms" | "us" } | null;
  /** Texts seen in a field that looks like a state, the most frequent first. */
  readonly status: {
    readonly group: string;
    readonly label: string;
    readonly seen: readonly string[];
  } | null;
  /** The lines it was made from: those of the most frequent form. */
  readonly lines: readonly HeardLine[];
  /** Lines of any other form. */
  readonly others: readonly HeardLine[];
}

interface Column {
  readonly tokens: readonly Token[];
  /** All of them the same. */
  readonly isConstant: boolean;
  role: "literal" | "value" | "sequence" | "time" | "status" | "varying";
}

/** More different words than this are no states. */
const MOST_STATES = 8;
const STATE_LABEL = /^(?:s|st|sta|stat|state|status|flags?|e|err|error)$/i;
/** Said of a good reading; whatever else may stand there did not while this was heard. */
const STATE_WORD = /^(?:ok|good|valid|ready|norm|normal|stable)$/i;

/**
 * Works out what lines of an unknown instrument are made of. The pattern fits every line of the most frequent form;
 * what of it is a value, a counter or a state is a guess, which somebody with the manual has to confirm.
 * @returns null where no line has a number that could be a value
 * @example findForm(["P=-79.98 hPa", "P=-79.97 hPa"]...)?.pattern // "^P=(?<value_1>[+-]?\\d+\\.\\d{2}) hPa$"
 */
export function findForm(heard: readonly HeardLine[]): LineForm | null {
  const { lines, rows, others } = ofMainShape(heard);
  const columns = (rows[0] ?? []).map((_, i): Column => {
    const tokens = rows.map((row) => row[i] as Token);
    const isConstant = tokens.every(({ text }) => text === tokens[0]?.text);
    return { tokens, isConstant, role: "literal" };
  });
  const at_s = lines.map((line) => line.at_s);
  giveRoles(columns, at_s);
  const named = nameFields(columns, at_s);
  if (named.values.length === 0) return null;
  const pattern = `^${columns.map((column, i) => patternOf(column, named.groups.get(i))).join("")}$`;
  return { pattern, ...named, lines, others };
}

function ofMainShape(heard: readonly HeardLine[]) {
  const all = heard.map((line) => {
    const row = tokensOf(line.text);
    return { line, row, shape: shapeOf(row) };
  });
  const counts = new Map<string, number>();
  // A shape without a number can have no value, however often it comes.
  for (const { shape, row } of all) {
    if (row.some(({ kind }) => kind === "number")) counts.set(shape, (counts.get(shape) ?? 0) + 1);
  }
  const [main] = [...counts].sort((a, b) => b[1] - a[1])[0] ?? [];
  const chosen = all.filter(({ shape }) => shape === main);
  return {
    lines: chosen.map(({ line }) => line),
    rows: chosen.map(({ row }) => row),
    others: all.filter(({ shape }) => shape !== main).map(({ line }) => line),
  };
}

function giveRoles(columns: readonly Column[], at_s: readonly number[]): void {
  const has = (role: Column["role"]) => columns.some((column) => column.role === role);
  columns.forEach((column, i) => {
    const kind = column.tokens[0]?.kind;
    if (kind === "word" && !column.isConstant) {
      const states = new Set(column.tokens.map(({ text }) => text)).size;
      column.role = states <= MOST_STATES && !has("status") ? "status" : "varying";
    }
    const isState = kind === "word" && column.isConstant && STATE_WORD.test(column.tokens[0]?.text ?? "");
    if (isState && !has("status")) column.role = "status";
    if (kind !== "number") return;
    const texts = column.tokens.map(({ text }) => text);
    if (!has("sequence") && isCounter(texts)) column.role = "sequence";
    else if (!has("time") && timeUnit(texts, at_s) !== null) column.role = "time";
    else if (!(column.isConstant && isLabelled(columns, i))) column.role = "value";
  });
  demoteState(columns);
}

/** Digits that are part of a name, such as CH1. */
function isLabelled(columns: readonly Column[], i: number): boolean {
  const before = columns[i - 1]?.tokens[0];
  const own = columns[i]?.tokens[0];
  return (
    before?.kind === "word" && own?.lead === "" && !STATE_LABEL.test(before.text) && !own.text.includes(".")
  );
}

/** One of several numbers that is short, whole and stands still, or is called a state, is one rather than a value. */
function demoteState(columns: readonly Column[]): void {
  const values = columns.filter(({ role }) => role === "value");
  if (columns.some(({ role }) => role === "status")) return;
  const candidates = values.filter((column) => {
    const isShort = column.tokens.every(({ text }) => /^\d{1,2}$/.test(text));
    const states = new Set(column.tokens.map(({ text }) => text)).size;
    const isNamed = STATE_LABEL.test(labelOf(columns, columns.indexOf(column)));
    return isShort && (column.isConstant || (isNamed && states <= MOST_STATES));
  });
  const chosen =
    candidates.find((column) => STATE_LABEL.test(labelOf(columns, columns.indexOf(column)))) ??
    candidates.at(-1);
  if (chosen && values.length > 1) chosen.role = "status";
}

function nameFields(columns: readonly Column[], at_s: readonly number[]) {
  const groups = new Map<number, string>();
  const values: ValueField[] = [];
  let sequence: LineForm["sequence"] = null;
  let time: LineForm["time"] = null;
  let status: LineForm["status"] = null;
  columns.forEach(({ role, tokens }, i) => {
    const texts = tokens.map(({ text }) => text);
    const label = labelOf(columns, i);
    if (role === "value") {
      const group = `value_${values.length + 1}`;
      groups.set(i, group);
      values.push({ group, label, unit: unitOf(columns, i), texts });
    } else if (role === "sequence") {
      groups.set(i, "count");
      sequence = { group: "count", ...counterModulus(texts) };
    } else if (role === "time") {
      groups.set(i, "time");
      time = { group: "time", unit: timeUnit(texts, at_s) ?? "s" };
    } else if (role === "status") {
      groups.set(i, "state");
      status = { group: "state", label, seen: byFrequency(texts) };
    }
  });
  return { groups, values, sequence, time, status } as Pick<
    LineForm,
    "values" | "sequence" | "time" | "status"
  > & { groups: ReadonlyMap<number, string> };
}

/** The word in front of a field, with nothing between them but a mark or spaces. */
function labelOf(columns: readonly Column[], i: number): string {
  for (let at = i - 1; at >= Math.max(0, i - 3); at--) {
    const token = columns[at]?.tokens[0];
    if (token?.kind === "word") return columns[at]?.isConstant ? token.text : "";
    if (token?.kind === "number" || token?.kind === "unit" || token?.text === "," || token?.text === ";")
      return "";
  }
  return "";
}

/** A unit behind the number, or else in its label. */
function unitOf(columns: readonly Column[], i: number): UnitHint | null {
  for (const at of [i + 1, i + 2]) {
    const token = columns[at]?.tokens[0];
    if (token?.kind === "unit") return unitHint(token.text);
  }
  const label = labelOf(columns, i);
  return label.length > 1 ? unitHint(label) : null;
}

function patternOf({ role, tokens, isConstant }: Column, group: string | undefined): string {
  const texts = tokens.map(({ text }) => text);
  const first = tokens[0];
  if (!first) return "";
  const lead = spacesPattern(tokens.map((token) => token.lead));
  if (first.kind === "space") return spacesPattern(texts);
  if (role === "literal") return isConstant ? lead + escaped(first.text) : `${lead}${numberPattern(texts)}`;
  if (role === "varying") {
    const different = byFrequency(texts);
    return different.length <= MOST_STATES ? `(?:${different.map(escaped).join("|")})` : "[^ ,;]+";
  }
  if (role === "status") {
    const isNumber = first.kind === "number";
    return `${lead}(?<${group}>${isNumber ? "\\d+" : byFrequency(texts).map(escaped).join("|")})`;
  }
  const isUnsigned = role === "sequence" || role === "time";
  const number = isUnsigned ? numberPattern(texts).replace(/^-\?/, "") : numberPattern(texts);
  return `${lead}(?<${group}>${number})`;
}

function spacesPattern(texts: readonly string[]): string {
  const [first = ""] = texts;
  // In brackets, lest it be taken for a repeat of the group before it.
  return texts.every((text) => text === first) ? escaped(first) : "[ \\t]*";
}

/** @example escaped("a.b\x1b") // "a\\.b\\x1b" */
function escaped(text: string): string {
  return text
    .replace(/[\\^$.*+?()[\]{}|/]/g, "\\$&")
    .replace(/[^\x20-\x7e]/g, (character) => `\\x${character.charCodeAt(0).toString(16).padStart(2, "0")}`);
}

function byFrequency(texts: readonly string[]): string[] {
  const counts = new Map<string, number>();
  for (const text of texts) counts.set(text, (counts.get(text) ?? 0) + 1);
  return [...counts].sort((a, b) => b[1] - a[1]).map(([text]) => text);
}
