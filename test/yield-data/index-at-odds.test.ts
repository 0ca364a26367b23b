import { rmSync } from "node:fs";
import { join } from "node:path";
import Database from "libsql";
import { expect, it } from "vitest";
import { rebuildIndex } from "../../station/records/index-rebuild.ts";
import { collectYield } from "../../station/yield-data/collect-yield.ts";
import { copyIndex, emptyPage } from "../records/emptied-page.ts";
import { check, decision, test as tested } from "../records/held-units.ts";
import { close, open } from "../records/running-store.ts";
import { scratchFolder } from "../records/scratch-folder.ts";

const ALL = {
  ...{ from: null, to: null, by: ["model" as const], shifts: [] },
  now_ms: Date.parse("2026-12-01T00:00:00Z"),
};

it.each([
  ["lacks a unit", "DELETE FROM units WHERE serial = 'A2'"],
  [
    "has a unit twice",
    `INSERT INTO units SELECT 'A9', first_sequence, first_ended, first_form, first_parts, last_sequence, last_form, tests, voids, retests, reworks
     FROM units WHERE serial = 'A2'`,
  ],
  ["lacks a failed test among the failed", "UPDATE attempts SET verdict = 'pass' WHERE serial = 'A3'"],
  ["has a test of no time", "UPDATE attempts SET ended = 'now' WHERE serial = 'A1'"],
  ["has a valid test that took no time", "UPDATE attempts SET duration_s = NULL WHERE serial = 'A1'"],
  ["lacks the form of a unit's first test", lacksForm("serial = 'A3'")],
  ["lacks the form of a test that is no first one", lacksForm("verdict = 'void'")],
  ["lacks the form of a reference piece's test", lacksForm("record_kind = 'reference'")],
])("counts by travellers, and says so, where the index %s", async (_, sql) => {
  const folder = scratchFolder();
  const { store } = await open(folder);
  await tested(store, "A1", "pass");
  await tested(store, "A2", "pass");
  await tested(store, "A3", "fail");
  await tested(store, "A4", "void");
  await check(store, "pass");
  await close(store);
  const before = await collectYield({ folder, ...ALL });
  expect(before.total).toMatchObject({ inspected: 3, tests: 4, voidTests: 1 });
  expect(before.notes).toEqual([]);
  const database = new Database(copyIndex(folder));
  database.exec(sql);
  database.close();
  const after = await collectYield({ folder, ...ALL });
  expect({ ...after, notes: [], source: null }).toEqual({ ...before, notes: [], source: null });
  expect(after.notes.join(" ")).toMatch(/index is damaged|no index/);
});

it("counts by an index, and not by travellers, where a unit that is held has no valid test", async () => {
  const folder = scratchFolder();
  const { store } = await open(folder);
  await tested(store, "A1", "pass");
  const only = await tested(store, "A2", "void");
  await store.dispose(decision("hold", only));
  await close(store);
  const counted = await collectYield({ folder, ...ALL });
  expect(counted.total).toMatchObject({ inspected: 1, tests: 2, voidTests: 1 });
  expect(counted.heldUnits).toMatchObject([{ serial: "A2" }]);
  expect(counted.notes).toEqual([]);
  rmSync(join(folder, ".index.db"));
  expect(await collectYield({ folder, ...ALL })).toEqual(counted);
});

it.each([
  ["units", "of its units"],
  ["attempts_unit", "of tests by unit"],
  ["attempts_checked", "of reference checks"],
  ["attempts_ended", "of tests by their end"],
  ["attempts_apart", "of tests that are no first ones"],
  ["attempts_failed", "of failed tests"],
  ["units_first", "of units by their first test"],
])(
  "counts by travellers, and says so, where the index has an empty page in its table %s, %s",
  async (name) => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await tested(store, "A1", "pass");
    const failed = await tested(store, "A2", "fail");
    await tested(store, "A2", "pass");
    await check(store, "pass");
    await store.dispose(decision("hold", failed));
    await close(store);
    const before = await collectYield({ folder, ...ALL });
    expect(before).toMatchObject({ total: { inspected: 2, tests: 3 }, referenceChecks: [{ passed: 1 }] });
    // Without a journal, which would have the page as it was.
    await rebuildIndex({ folder, at_ms: 0 });
    emptyPage(folder, name);
    const after = await collectYield({ folder, ...ALL });
    expect({ ...after, notes: [], source: null }).toEqual({ ...before, notes: [], source: null });
    expect(after.notes.join(" ")).toContain("index is damaged");
  },
);

it("says that an index of more tests than are compared with their travellers lacks one of them", async () => {
  const folder = scratchFolder();
  const { store } = await open(folder);
  await tested(store, "A1", "pass");
  await tested(store, "A2", "void");
  await close(store);
  await rebuildIndex({ folder, at_ms: 0 });
  const database = new Database(copyIndex(folder));
  database.exec(MANY_MORE);
  database.close();
  const before = await collectYield({ folder, ...ALL });
  expect(before.total).toMatchObject({ inspected: MANY + 1, tests: MANY + 2 });
  expect(before.notes.join(" ")).toContain("too many travellers");
  emptyPage(folder, "attempts_apart");
  const after = await collectYield({ folder, ...ALL });
  expect(after.total).toMatchObject({ inspected: 1, tests: 2, voidTests: 1 });
  expect(after.notes.join(" ")).toContain("index is damaged");
});

const MANY = 30_000;
/** Units like A1, in the index alone. */
const MANY_MORE = `
  CREATE TEMP TABLE more AS WITH RECURSIVE n(k) AS (SELECT 1 UNION ALL SELECT k + 1 FROM n WHERE k < ${MANY}) SELECT k FROM n;
  INSERT INTO attempts SELECT 2 + k, sha256, path, id || k, record_kind, 'B' || k, model, attempt, attempt_kind, draft, verdict,
    started_at, ended_at, ended, duration_s, form, codes, causes, suspect, measured, certified, tolerance, unit
    FROM attempts CROSS JOIN more WHERE serial = 'A1';
  INSERT INTO units SELECT 'B' || k, 2 + k, first_ended, first_form, first_parts, 2 + k, last_form, tests, voids, retests, reworks
    FROM units CROSS JOIN more WHERE serial = 'A1';`;

function lacksForm(of: string): string {
  return `DELETE FROM forms WHERE form IN (SELECT form FROM attempts WHERE ${of})`;
}
