import { isMeasured, linesOf, type Row } from "./characteristics.tsx";
import type { Verdict } from "./screen-state.ts";
import { wrapWords } from "./wrap-words.ts";

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
  readonly rows: readonly Row[];
  /** Beneath the rows, beside the block. */
  readonly notes: readonly string[];
  /** Under the block, over the whole width. */
  readonly below: readonly string[];
  readonly suspects: readonly string[];
}

type Suspects = Verdict["suspects"];

interface Outcome {
  readonly rows: readonly Row[];
  readonly reasons: readonly string[];
  readonly suspects: Suspects;
}

/**
 * Fits a verdict's words into the panel. Where there is no room for everything, rows that passed go first, the last ones
 * before the others; then what was not measured is named in one sentence; then the suspects lose their advice, the second
 * before the first. Rows that failed, or whose value can't be trusted, stay.
 */
export function layOutcome(outcome: Outcome, room: OutcomeRoom): OutcomeLayout {
  const wide = wrapAll(outcome.reasons, room.columns);
  for (const suspects of suspectTexts(outcome.suspects, room.columns)) {
    for (const below of wide.length === 0 ? [[]] : [[], wide]) {
      const height = room.rows - suspects.length - below.length;
      if (height < room.block) continue;
      const reasons = below.length > 0 ? [] : outcome.reasons;
      for (const rows of [outcome.rows, outcome.rows.filter(isMeasured)]) {
        const fitted = withoutPassing({ all: outcome.rows, rows, reasons }, room.beside, height);
        if (fitted) return { ...fitted, below, suspects };
      }
    }
  }
  return barest(outcome, room, wide);
}

/** @returns with as many passing rows as there is room for; null where there is none even without them */
function withoutPassing(
  { all, rows, reasons }: { readonly all: readonly Row[] } & Omit<Outcome, "suspects">,
  width: number,
  height: number,
): Pick<OutcomeLayout, "rows" | "notes"> | null {
  const passing = rows.filter(hasPassed);
  const unmeasured = rows.length < all.length ? all.filter((row) => !isMeasured(row)) : [];
  for (let kept = passing.length; kept >= 0; kept--) {
    const dropped = new Set(passing.slice(kept));
    const shown = rows.filter((row) => !dropped.has(row));
    const notes = wrapAll([notShown(dropped.size), notMeasured(unmeasured), ...reasons], width);
    if (linesOf(shown, width) + notes.length <= height) return { rows: shown, notes };
  }
  return null;
}

/** Last resort: first causes and reasons in what the block leaves, then what failed, then how many more there are. */
function barest(outcome: Outcome, room: OutcomeRoom, reasons: readonly string[]): OutcomeLayout {
  const spare = Math.max(0, room.rows - room.block);
  const suspects = (suspectTexts(outcome.suspects, room.columns).at(-1) ?? []).slice(0, spare);
  const below = reasons.slice(0, spare - suspects.length);
  const height = room.rows - suspects.length - below.length;
  const bare = outcome.rows
    .filter((row) => !hasPassed(row) && isMeasured(row))
    .map((row) => ({ ...row, note: "", needsSpread: false }));
  const rows = bare.slice(
    0,
    bare.length === outcome.rows.length && bare.length <= height ? height : height - 1,
  );
  const more = outcome.rows.length - rows.length;
  return { rows, notes: more === 0 ? [] : [`And ${more} more: see drumtight find.`], below, suspects };
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

/** @returns the suspects' lines, from the fullest to the shortest */
function suspectTexts([first, second]: Suspects, columns: number): readonly (readonly string[])[] {
  if (!first) return [[]];
  const inFull = ({ cause, look_at }: Suspects[number]) => `${cause}. ${look_at}`;
  const lines = (one: string, other: string | undefined) => [
    ...wrapWords(`Look for: ${one}`, columns, "  "),
    ...(other === undefined ? [] : wrapWords(`or: ${other}`, columns, "  ")),
  ];
  return [
    lines(inFull(first), second && inFull(second)),
    lines(inFull(first), second && `${second.cause}.`),
    lines(`${first.cause}.`, second && `${second.cause}.`),
    [`Look for: ${first.cause}${second ? `, else ${second.cause}` : ""}.`],
  ];
}
