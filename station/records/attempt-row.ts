import type { SqlValue } from "./disk.ts";
import type { AttemptSummary, IndexedAttempt } from "./index-db.ts";

/** Columns of the index's table `attempts` as the database gives them. */
type Columns = Readonly<Record<string, unknown>>;

/**
 * A row of the index's table `attempts`. By hand and not by the schema library, which takes longer to load than a whole look into
 * the index may take, and whose answer for each of ten thousand rows would be waited for.
 * @throws TypeError for a row that no version of the program wrote, so that its index is made anew
 */
export function attemptOfRow(row: unknown): AttemptSummary {
  const it = row as Columns;
  const [certified, tolerance] = [numberOrNull(it, "certified"), numberOrNull(it, "tolerance")];
  const [measured, unit] = [numberOrNull(it, "measured"), textOrNull(it, "unit")];
  return {
    sequence: integer(it, "sequence"),
    sha256: text(it, "sha256"),
    path: text(it, "path"),
    id: text(it, "id"),
    serial: text(it, "serial"),
    model: text(it, "model"),
    attempt: integer(it, "attempt"),
    verdict: oneOf(it, "verdict", ["pass", "fail", "void"]),
    started_at: text(it, "started_at"),
    ended_at: textOrNull(it, "ended_at"),
    suspect: textOrNull(it, "suspect"),
    recordKind: oneOf(it, "record_kind", ["unit", "reference"]),
    kind: oneOf(it, "attempt_kind", ["first", "retest", "after_rework"]),
    draft: integer(it, "draft") !== 0,
    codes: lines(it, "codes"),
    causes: lines(it, "causes"),
    reference:
      certified === null || tolerance === null || unit === null
        ? null
        : { measured, certified, tolerance, unit },
  };
}

/** @returns a value for each column of the table `attempts`, in their order */
export function rowOfAttempt(it: IndexedAttempt): SqlValue[] {
  return [
    it.sequence,
    it.sha256,
    it.path,
    it.id,
    it.recordKind,
    it.serial,
    it.model,
    it.attempt,
    it.kind,
    it.draft ? 1 : 0,
    it.verdict,
    it.started_at,
    it.ended_at,
    it.ended_at ?? it.started_at,
    it.duration_s,
    it.stored.form,
    it.codes.join("\n"),
    it.causes.join("\n"),
    it.suspect,
    it.reference?.measured ?? null,
    it.reference?.certified ?? null,
    it.reference?.tolerance ?? null,
    it.reference?.unit ?? null,
  ];
}

export function text(row: Columns, column: string): string {
  return textOrNull(row, column) ?? wrong(column);
}

export function textOrNull(row: Columns, column: string): string | null {
  const value = row[column];
  return value === null || typeof value === "string" ? value : wrong(column);
}

export function integer(row: Columns, column: string): number {
  const value = numberOrNull(row, column);
  return Number.isSafeInteger(value) ? Number(value) : wrong(column);
}

function numberOrNull(row: Columns, column: string): number | null {
  const value = row[column];
  return value === null || typeof value === "number" ? value : wrong(column);
}

function oneOf<T extends string>(row: Columns, column: string, names: readonly T[]): T {
  return names.find((name) => name === row[column]) ?? wrong(column);
}

/** Neither a code nor a characteristic's name has a line break. */
function lines(row: Columns, column: string): string[] {
  const all = text(row, column);
  return all === "" ? [] : all.split("\n");
}

function wrong(column: string): never {
  throw new TypeError(`The index's column ${column} holds something else than the program writes there.`);
}
