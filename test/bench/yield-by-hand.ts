import type { YieldReport } from "../../station/yield/yield-report.ts";

/**
 * A yield by day as somebody who knows the index's tables types it into the sqlite3 shell: units by what became of them, tests and
 * voids, steps, what units failed by and are suspected of, cycle times, reference checks. Each table is gone through once where
 * that is possible, and what an index can answer alone is asked so.
 * @param from first local day, "2026-01-05"
 * @param to last one
 */
export function yieldByHand(from: string, to: string): string {
  return `
CREATE TEMP TABLE form (form INTEGER PRIMARY KEY, ofUnit, kind, verdict, code);
INSERT INTO form SELECT form, text ->> 'recordKind' = 'unit', text ->> 'kind', text ->> 'verdict', text -> 'codes' ->> 0 FROM forms;
CREATE TEMP TABLE step (form, step, reached, passed);
INSERT INTO step SELECT f.form, c.value ->> 'step',
    max(c.value ->> 'verdict' <> 'void') OR f.text ->> 'verdict' = 'fail' AND min(c.key) = (
      SELECT iif(max(x.value ->> 'verdict' = 'fail'), NULL, min(iif(x.value ->> 'verdict' = 'void', x.key, NULL)))
      FROM json_each(f.text, '$.characteristics') x), min(c.value ->> 'verdict' = 'pass')
  FROM forms f, json_each(f.text, '$.characteristics') c GROUP BY 1, 2;
CREATE TEMP TABLE cause (form, cause);
INSERT INTO cause
  SELECT f.form, c.value ->> 'name' FROM forms f, json_each(f.text, '$.characteristics') c WHERE c.value ->> 'verdict' = 'fail'
  UNION SELECT f.form, c.value FROM forms f, json_each(f.text, '$.codes') c
    WHERE f.text ->> 'verdict' = 'fail' AND c.value NOT IN ('OUT_OF_LIMITS', 'GROSS_LEAK', 'UNIT_NOT_SEALED');
CREATE TEMP TABLE day (day, begin, until);
INSERT INTO day WITH RECURSIVE days (day) AS (
    SELECT '${from}' UNION ALL SELECT date(day, '+1 day') FROM days WHERE day < '${to}'
  ) SELECT day, strftime('%Y-%m-%dT%H:%M:%fZ', day, 'utc'), strftime('%Y-%m-%dT%H:%M:%fZ', day, '+1 day', 'utc') FROM days;
CREATE TEMP TABLE decided (serial PRIMARY KEY, reworked, held, scrapped);
INSERT INTO decided SELECT u.value ->> 'serial', max(d.text ->> 'kind' = 'rework'),
    sum((d.text ->> 'kind' = 'hold') - (d.text ->> 'kind' = 'accept')) > 0, max(d.text ->> 'kind' = 'scrap')
  FROM dispositions d, json_each(d.text, '$.units') u GROUP BY 1;
CREATE TEMP TABLE inspected AS SELECT day, first_form, last_form, count(*) AS units
  FROM day CROSS JOIN units ON first_ended >= begin AND first_ended < until GROUP BY 1, 2, 3;
CREATE TEMP TABLE tested AS SELECT day, form, count(*) AS tests
  FROM day CROSS JOIN attempts ON ended >= begin AND ended < until GROUP BY 1, 2;
SELECT day, sum(units) AS inspected, sum(units * (f.verdict = 'pass')) AS firstPass, sum(units * (l.verdict = 'pass')) AS good,
    sum(units * (f.verdict = 'fail' AND l.kind = 'retest')) AS retested
  FROM inspected JOIN form f ON f.form = first_form JOIN form l ON l.form = last_form GROUP BY day;
SELECT day, step, sum(units * reached) AS reached, sum(units * passed) AS passed
  FROM inspected JOIN step ON form = first_form GROUP BY day, step;
SELECT date(u.first_ended, 'localtime') AS day, sum(d.scrapped) AS scrapped, sum(d.held AND NOT d.scrapped) AS held,
    sum(d.reworked) AS reworked, sum((d.held OR d.scrapped) AND l.verdict = 'pass') AS notGood,
    sum(f.verdict = 'fail' AND u.retests > 0 AND l.kind <> 'retest') AS retested
  FROM decided d JOIN units u USING (serial) JOIN form f ON f.form = first_form JOIN form l ON l.form = last_form GROUP BY 1;
SELECT day, sum(tests) AS tests, sum(tests * (verdict = 'void')) AS voidTests
  FROM tested JOIN form USING (form) WHERE ofUnit GROUP BY day;
SELECT cause AS name, sum(units) AS count FROM inspected JOIN cause ON form = first_form GROUP BY 1;
SELECT a.suspect AS name, count(*) AS count FROM attempts a
  WHERE a.verdict = 'fail' AND a.record_kind = 'unit' AND a.draft = 0 AND a.ended > '' AND a.suspect IS NOT NULL
    AND (a.attempt = 1 OR EXISTS (SELECT 1 FROM units u WHERE u.serial = a.serial AND u.first_sequence = a.sequence))
  GROUP BY 1;
SELECT code AS name, sum(tests) AS count FROM tested JOIN form USING (form) WHERE verdict = 'void' GROUP BY 1;
WITH lasting AS (SELECT cycle_s, count(*) AS tests FROM attempts INDEXED BY attempts_ended WHERE cycle_s IS NOT NULL GROUP BY 1),
  upTo AS (SELECT cycle_s, sum(tests) OVER (ORDER BY cycle_s) AS tests, sum(tests) OVER () AS allTests FROM lasting)
  SELECT max(tests) AS tests,
    (min(iif(2 * tests >= allTests, cycle_s, NULL)) + min(iif(2 * tests > allTests, cycle_s, NULL))) / 2 AS median_s,
    (min(iif(100 * tests >= 95 * allTests, cycle_s, NULL)) + min(iif(100 * tests > 95 * allTests, cycle_s, NULL))) / 2 AS p95_s
  FROM upTo;
SELECT serial, model, count(*) AS passed FROM attempts INDEXED BY attempts_checked
  WHERE record_kind = 'reference' AND draft = 0 AND verdict = 'pass' GROUP BY 1, 2;
`;
}

type Rows = readonly Readonly<Record<string, unknown>>[];

/**
 * @param answers of `yieldByHand`, as the shell tells them in JSON
 * @throws Error where the program's yield by day says anything else: the two would not be the same work
 */
export function requireSame(answers: string, report: YieldReport): void {
  const [units, steps, decided, tests, ...others] = answers
    .trim()
    .split(/\]\n(?=\[)/)
    .map((text) => JSON.parse(text.endsWith("]") ? text : `${text}]`) as Rows);
  const ofDay = (rows: Rows | undefined, name: string) => rows?.find(({ day }) => day === name) ?? {};
  const { groups = [] } = report.breakdowns[0] ?? {};
  for (const { name, counts } of groups) {
    const [unit, test] = [ofDay(units, name), ofDay(tests, name)];
    const { scrapped = 0, held = 0, reworked = 0, notGood = 0, retested = 0 } = ofDay(decided, name);
    same(
      name,
      [
        unit.inspected,
        unit.firstPass,
        Number(unit.good) - Number(notGood),
        Number(unit.retested) + Number(retested),
      ],
      [counts.inspected, counts.firstPass.count, counts.good.count, counts.retested.of],
    );
    same(name, [scrapped, held, reworked], [counts.scrapped.count, counts.held.count, counts.reworked.count]);
    same(name, [test.tests, test.voidTests], [counts.tests, counts.voidTests]);
    const own = counts.steps.map(({ step, passed }) => `${step} ${passed.of} ${passed.count}`);
    const theirs = steps
      ?.filter(({ day }) => day === name)
      .map((it) => `${it.step} ${it.reached} ${it.passed}`);
    same(name, theirs?.sort(), own.sort());
  }
  const bars = (rows: Rows | undefined) => rows?.map(({ name, count }) => `${words(name)} ${count}`).sort();
  const [failing, suspects, voids, [cycle] = [], checks] = others;
  same("failing characteristics", bars(failing), bars(report.failingCharacteristics as unknown as Rows));
  same("suspected causes", bars(suspects), bars(report.suspectedCauses as unknown as Rows));
  same("voids", bars(voids), bars(report.voidsByCause as unknown as Rows));
  const { tests: timed, median_s, p95_s } = report.cycleTime ?? {};
  same("cycle time", [cycle?.tests, cycle?.median_s, cycle?.p95_s], [timed, median_s, p95_s]);
  const pieces = (rows: Rows | undefined) =>
    rows?.map((it) => `${it.serial} ${it.model} ${it.passed}`).sort();
  same("reference checks", pieces(checks), pieces(report.referenceChecks as unknown as Rows));
}

function words(name: unknown): string {
  return String(name).toLowerCase().replaceAll("_", " ");
}

function same(what: string, byHand: unknown, own: unknown): void {
  const [theirs, ours] = [JSON.stringify(byHand), JSON.stringify(own)];
  if (theirs !== ours) throw new Error(`Of ${what} the shell says ${theirs}, the program ${ours}.`);
}
