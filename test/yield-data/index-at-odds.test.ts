import { copyFileSync, renameSync, rmSync } from "node:fs";
import { join } from "node:path";
import Database from "libsql";
import { expect, it } from "vitest";
import { collectYield } from "../../station/yield-data/collect-yield.ts";
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
  // In this process SQLite may hold the file that was there.
  renameSync(join(folder, ".index.db"), join(folder, ".index.old"));
  copyFileSync(join(folder, ".index.old"), join(folder, ".index.db"));
  const database = new Database(join(folder, ".index.db"));
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

function lacksForm(of: string): string {
  return `DELETE FROM forms WHERE form IN (SELECT form FROM attempts WHERE ${of})`;
}
