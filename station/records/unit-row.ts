import type { SqlValue } from "./disk.ts";
import type { IndexedAttempt } from "./index-db.ts";

/**
 * A row of the index's table `units`: one for each serial with a test that counts (kind unit, no draft), as its travellers alone
 * say; what was decided about it later is in no index. `first_` is the unit's first valid test, `last_` its newest valid one, null
 * where every test was void.
 */
export interface UnitRow {
  readonly serial: string;
  readonly first_sequence: number | null;
  /** When that test ended, ISO 8601 UTC. */
  readonly first_ended: string | null;
  /** Its `StoredForm`'s number in the table `forms`: model, station, revision, verdict, kind, characteristics. */
  readonly first_form: number | null;
  /** Its tracked parts, canonical JSON. */
  readonly first_parts: string | null;
  readonly last_sequence: number | null;
  readonly last_form: number | null;
  /** All that count, void ones too. */
  readonly tests: number;
  readonly voids: number;
  /** Valid ones of these kinds. */
  readonly retests: number;
  readonly reworks: number;
}

/** Adds a test to its unit's row, which is there once the first one is; in the order of the chain. */
export const ADD_TO_UNIT = `
  INSERT INTO units VALUES (?, ?, ?, ?, ?, ?, ?, 1, ?, ?, ?)
  ON CONFLICT (serial) DO UPDATE SET
    first_sequence = coalesce(first_sequence, excluded.first_sequence),
    first_ended = coalesce(first_ended, excluded.first_ended),
    first_form = coalesce(first_form, excluded.first_form),
    first_parts = coalesce(first_parts, excluded.first_parts),
    last_sequence = coalesce(excluded.last_sequence, last_sequence),
    last_form = coalesce(excluded.last_form, last_form),
    tests = tests + 1,
    voids = voids + excluded.voids,
    retests = retests + excluded.retests,
    reworks = reworks + excluded.reworks`;

/** Fills the table from all attempts and their stored values at once, as `ADD_TO_UNIT` would have one by one. */
export const ADD_ALL_UNITS = `
  INSERT INTO units
  SELECT u.serial, u.first, f.ended, f.form, v.parts, u.last, l.form, u.tests, u.voids, u.retests, u.reworks
  FROM (
    SELECT serial,
      min(CASE WHEN verdict <> 'void' THEN sequence END) AS first,
      max(CASE WHEN verdict <> 'void' THEN sequence END) AS last,
      count(*) AS tests, sum(verdict = 'void') AS voids,
      sum(verdict <> 'void' AND attempt_kind = 'retest') AS retests,
      sum(verdict <> 'void' AND attempt_kind = 'after_rework') AS reworks
    FROM attempts WHERE record_kind = 'unit' AND draft = 0 GROUP BY serial
  ) u
  LEFT JOIN attempts f ON f.sequence = u.first
  LEFT JOIN stored_values v ON v.sequence = u.first
  LEFT JOIN attempts l ON l.sequence = u.last`;

/** @returns what `ADD_TO_UNIT` is given of a test that counts */
export function unitOf(it: IndexedAttempt): SqlValue[] {
  const { sequence, kind } = it;
  if (it.verdict === "void") return [it.serial, null, null, null, null, null, null, 1, 0, 0];
  const { form, parts } = it.stored;
  return [
    it.serial,
    sequence,
    it.ended_at ?? it.started_at,
    form,
    parts,
    sequence,
    form,
    0,
    kind === "retest" ? 1 : 0,
    kind === "after_rework" ? 1 : 0,
  ];
}
