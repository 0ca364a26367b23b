import { isMeasured, linesOf, type Row } from "./characteristics.tsx";
import type { Verdict } from "./screen-state.ts";
import { cut, wrapWords } from "./wrap-words.ts";

export interface OutcomeRoom {
  /** Of the whole panel. */
  readonly rows: number;
  readonly columns: number;
  /** Columns beside the verdict's block. */
  readonly beside: number;
  /** Rows of the block. */
  readonly block: number;
}

export interface OutcomeLayout {
  /** Beside the block, before the rows: why it came so. */
  readonly above: readonly string[];
  readonly rows: readonly Row[];
  /** Beneath the rows, beside the block. */
  readonly notes: readonly string[];
  /** Under the block, over the whole width. */
  readonly under: readonly Row[];
  readonly below: readonly string[];
  readonly suspects: readonly string[];
  /** No value was left out, and the first cause has its advice. */
  readonly isWhole: boolean;
}

type Suspects = Verdict["suspects"];

interface Outcome {
  readonly rows: readonly Row[];
  readonly reasons: readonly string[];
  readonly suspects: Suspects;
}

/**
 * Fits a verdict's words into the panel, beside its block. Where there is no room for everything, rows that passed go
 * first, the last ones before the others; then what was not measured is named in one sentence; then the second cause loses
 * its advice, and goes; then of some values that failed only the names stay. The first cause's advice tells how to open a
 * unit safely: it goes last.
 */
export function layOutcome(outcome: Outcome, room: OutcomeRoom): OutcomeLayout {
  const { advised, bare } = suspectTexts(outcome.suspects, room.columns);
  return (
    firstOf(advised, (suspects) => withRows(outcome, room, suspects)) ??
    firstOf(advised.toReversed(), (suspects) => withNames(outcome, room, suspects)) ??
    firstOf(bare, (suspects) => withRows(outcome, room, suspects, false)) ??
    barest(outcome, room, bare.at(-1) ?? [])
  );
}

/**
 * Fits them under a block too wide for rows beside it: there only the reasons stand.
 * @returns null where there is no room for all of it
 */
export function layUnder({ rows, reasons, suspects }: Outcome, room: OutcomeRoom): OutcomeLayout | null {
  const under = rows.filter(isMeasured);
  const said = [...reasons, notMeasured(rows.filter((row) => !isMeasured(row)))];
  const above = wrapAll(said, room.beside);
  if (above.length > (room.beside < LEAST_BESIDE ? 0 : room.block)) return null;
  const height = room.rows - room.block - linesOf(under, room.columns);
  const lines = suspectTexts(suspects, room.columns).advised.find(({ length }) => length <= height);
  return lines ? { ...NOTHING, above, under, suspects: lines, isWhole: true } : null;
}

/** Narrower, sentences fall to pieces. */
const LEAST_BESIDE = 24;
const NOTHING = {
  above: [],
  rows: [],
  notes: [],
  under: [],
  below: [],
  suspects: [],
  isWhole: false,
} as const;

type Lines = readonly string[];

function firstOf(
  texts: readonly Lines[],
  laid: (suspects: Lines) => OutcomeLayout | null,
): OutcomeLayout | null {
  for (const suspects of texts) {
    const found = laid(suspects);
    if (found) return found;
  }
  return null;
}

/** With every row that failed, and as many passing ones as there is room for. */
function withRows(
  outcome: Outcome,
  room: OutcomeRoom,
  suspects: Lines,
  hasAdvice = true,
): OutcomeLayout | null {
  const wide = wrapAll(outcome.reasons, room.columns);
  for (const below of wide.length === 0 ? [[]] : [[], wide]) {
    const height = room.rows - suspects.length - below.length;
    if (height < room.block) continue;
    const above = below.length > 0 ? [] : wrapAll(outcome.reasons, room.beside);
    for (const rows of [outcome.rows, outcome.rows.filter(isMeasured)]) {
      const fitted = withoutPassing(outcome.rows, rows, room.beside, height - above.length);
      if (!fitted) continue;
      const isWhole = hasAdvice && fitted.rows.length === rows.length;
      return { ...NOTHING, ...fitted, above, below, suspects, isWhole };
    }
  }
  return null;
}

/** @returns with as many passing rows as there is room for; null where there is none even without them */
function withoutPassing(
  all: readonly Row[],
  rows: readonly Row[],
  width: number,
  height: number,
): Pick<OutcomeLayout, "rows" | "notes"> | null {
  const passing = rows.filter(hasPassed);
  const unmeasured = rows.length < all.length ? all.filter((row) => !isMeasured(row)) : [];
  for (let kept = passing.length; kept >= 0; kept--) {
    const dropped = new Set(passing.slice(kept));
    const shown = rows.filter((row) => !dropped.has(row));
    const notes = wrapAll([notShown(dropped.size), notMeasured(unmeasured)], width);
    if (linesOf(shown, width) + notes.length <= height) return { rows: shown, notes };
  }
  return null;
}

/** Of what failed, the first ones with their values, the others by their names. */
function withNames(outcome: Outcome, room: OutcomeRoom, suspects: Lines): OutcomeLayout | null {
  const height = room.rows - suspects.length;
  if (height < room.block) return null;
  const above = wrapAll(outcome.reasons, room.beside);
  const failed = outcome.rows.filter((row) => isMeasured(row) && !hasPassed(row));
  const passed = outcome.rows.filter(hasPassed).length;
  const unmeasured = notMeasured(outcome.rows.filter((row) => !isMeasured(row)));
  for (let kept = failed.length - 1; kept > 0; kept--) {
    const rows = failed.slice(0, kept);
    const notes = wrapAll([...failedToo(failed.slice(kept)), notShown(passed), unmeasured], room.beside);
    if (above.length + linesOf(rows, room.beside) + notes.length <= height) {
      return { ...NOTHING, above, rows, notes, suspects };
    }
  }
  return null;
}

/** Last resort: first causes and reasons in what the block leaves, then what failed, then how many more there are. */
function barest(outcome: Outcome, room: OutcomeRoom, causes: Lines): OutcomeLayout {
  const spare = Math.max(0, room.rows - room.block);
  const suspects = cut(causes, spare);
  const below = cut(wrapAll(outcome.reasons, room.columns), spare - suspects.length);
  const height = room.rows - suspects.length - below.length;
  const bare = outcome.rows
    .filter((row) => !hasPassed(row) && isMeasured(row))
    .map((row) => ({ ...row, note: "", needsSpread: false }));
  const isAll = bare.length === outcome.rows.length && bare.length <= height;
  const rows = bare.slice(0, isAll ? height : height - 1);
  const more = outcome.rows.length - rows.length;
  const notes = more === 0 ? [] : [`And ${more} more: see drumtight find.`];
  return { ...NOTHING, rows, notes, below, suspects };
}

function wrapAll(sentences: readonly string[], width: number): string[] {
  return sentences.flatMap((sentence) => wrapWords(sentence, width));
}

function hasPassed({ mark }: Row): boolean {
  return mark === "PASS";
}

function notShown(passed: number): string {
  return passed === 0 ? "" : `${passed} passed, not shown.`;
}

function notMeasured(rows: readonly Row[]): string {
  return rows.length === 0 ? "" : `Not measured: ${rows.map(({ name }) => name).join(", ")}.`;
}

/** @example failedToo(rows) // ["FAIL too: open flow, input power."] */
function failedToo(rows: readonly Row[]): readonly string[] {
  return [...new Set(rows.map(({ mark }) => mark))].map((mark) => {
    const names = rows.filter((row) => row.mark === mark).map(({ name }) => name);
    return `${mark} too: ${names.join(", ")}.`;
  });
}

/** @returns the suspects' lines, from the fullest to the shortest: with the first one's advice, and without */
function suspectTexts([first, second]: Suspects, columns: number) {
  if (!first) return { advised: [[]], bare: [[]] };
  const inFull = ({ cause, look_at }: Suspects[number]) => `${cause}. ${look_at}`;
  const lines = (one: string, other?: string) => [
    ...wrapWords(`Look for: ${one}`, columns, "  "),
    ...(other === undefined ? [] : wrapWords(`or: ${other}`, columns, "  ")),
  ];
  return {
    advised: [
      lines(inFull(first), second && inFull(second)),
      lines(inFull(first), second && `${second.cause}.`),
      lines(inFull(first)),
    ],
    bare: [
      lines(`${first.cause}.`, second && `${second.cause}.`),
      [`Look for: ${first.cause}${second ? `, else ${second.cause}` : ""}.`],
    ],
  };
}
