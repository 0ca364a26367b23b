import type { Piece } from "./asked-pieces.ts";

const INSIDE = "s.value ->> 0";
const BEFORE = "s.value ->> 1";
export const NOT_LEFT_OUT = "sequence NOT IN (SELECT value FROM json_each(?))";

/** All forms, their lists apart from the rest. */
export const FORMS = `SELECT form, json_remove(text, '$.characteristics', '$.airflow'), text -> 'characteristics', text -> 'airflow'
  FROM forms`;

/**
 * The one question of a yield, of every week of however many years: every unit, by day or whatever was asked, and by what it came
 * to. Its only parameter is `timesOf` the pieces; the covering index over first inspections answers it alone, unless parts are asked for.
 */
export function unitsSql(withParts: boolean): string {
  return `SELECT s.key, u.first_form, u.last_form, count(*)${withParts ? ", u.first_parts" : ""}
    FROM json_each(?) s CROSS JOIN units u ON u.first_ended >= ${INSIDE} AND u.first_ended < ${BEFORE}
    GROUP BY s.key, u.first_form, u.last_form${withParts ? ", u.first_parts" : ""}`;
}

/** The tests of the same times. Parameters: `timesOf` the pieces, and a JSON array of the numbers of those left out. */
export function testsSql(withParts: boolean): string {
  return testsWhere(`a.${NOT_LEFT_OUT}`, withParts);
}

/**
 * The tests of the same times that are no unit's first valid one: of these `unitsSql` has told. The first condition is the one of an
 * index that has few rows.
 */
export function otherTestsSql(withParts: boolean): string {
  return testsWhere(
    `(a.attempt > 1 OR a.verdict = 'void' OR a.record_kind = 'reference' OR a.draft = 1)
      AND NOT EXISTS (SELECT 1 FROM units u WHERE u.serial = a.serial AND u.first_sequence = a.sequence)`,
    withParts,
  );
}

function testsWhere(condition: string, withParts: boolean): string {
  return `SELECT s.key, a.form, count(*)${withParts ? ", v.parts" : ""}
    FROM json_each(?) s CROSS JOIN attempts a ON a.ended >= ${INSIDE} AND a.ended < ${BEFORE}
    ${withParts ? "CROSS JOIN stored_values v ON v.sequence = a.sequence" : ""}
    WHERE ${condition}
    GROUP BY s.key, a.form${withParts ? ", v.parts" : ""}`;
}

/** @returns the times as `unitsSql` and `testsSql` take them: a JSON array of from and to, ISO 8601 UTC */
export function timesOf(pieces: readonly Piece[]): string {
  return JSON.stringify(pieces.map(({ from, until }) => [from, until]));
}

/**
 * First inspections that failed, by form and by what they were suspected of first. A first attempt that counts is the first
 * inspection; for a later one the unit is asked. Parameters: from and until.
 */
export const SUSPECTS = `SELECT a.form, a.suspect, count(*) FROM attempts a
  WHERE a.ended >= ? AND a.ended < ? AND a.verdict = 'fail' AND a.record_kind = 'unit' AND a.draft = 0
    AND (a.attempt = 1
      OR EXISTS (SELECT 1 FROM units u WHERE u.serial = a.serial AND u.first_sequence = a.sequence))
  GROUP BY a.form, a.suspect`;

/** Of some units the rows that they have, without a valid test too. The only parameter, as of `testsOfSql`, is a JSON array of serials. */
export function rowsOfSql(withParts: boolean): string {
  return `SELECT s.key, u.first_sequence, u.first_ended, u.first_form, u.last_form, u.tests${withParts ? ", u.first_parts" : ""}
    FROM json_each(?) s CROSS JOIN units u ON u.serial = s.value`;
}

/** Every test of theirs that counts, in any order. */
export function testsOfSql(withParts: boolean): string {
  return `SELECT s.key, a.sequence, a.sha256, a.attempt, a.ended, a.form, a.suspect${withParts ? ", v.parts" : ""}
    FROM json_each(?) s CROSS JOIN attempts a ON a.serial = s.value
    ${withParts ? "CROSS JOIN stored_values v ON v.sequence = a.sequence" : ""}
    WHERE a.record_kind = 'unit' AND a.draft = 0`;
}

/**
 * A row's way from SQLite to here takes longer than finding it, a text's does not.
 * @param sql whose columns have no comma in them
 */
export function inColumns(sql: string): string {
  const names = sql
    .slice(0, sql.indexOf("FROM"))
    .split(",")
    .map((_, at) => `c${at}`);
  const arrays = names.map((name) => `json_group_array(${name})`);
  return `WITH answer(${names}) AS (${sql}) SELECT ${arrays} FROM answer`;
}
