import { mkdirSync, renameSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { listRecords } from "../../station/records/record-name.ts";
import { collectYield } from "../../station/yield-data/collect-yield.ts";
import { find } from "../records/find-on-records.ts";
import { test as tested } from "../records/held-units.ts";
import { close, open } from "../records/running-store.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { UNREADABLE } from "../records/unreadable-travellers.ts";

const ALL = {
  ...{ from: null, to: null, by: [], shifts: [] },
  now_ms: Date.parse("2026-12-01T00:00:00Z"),
};

it("counts a traveller that was put on another disk and linked to, and none that leads to another's", async () => {
  const folder = scratchFolder();
  const { store } = await open(folder);
  for (const serial of ["A1", "A2", "A3"]) await tested(store, serial, "pass");
  const [first, second, third] = (await listRecords(folder)).map(({ path }) => join(folder, path));
  const elsewhere = join(scratchFolder(), "kept");
  mkdirSync(elsewhere);
  renameSync(first ?? "", join(elsewhere, "first.json"));
  symlinkSync(join(elsewhere, "first.json"), first ?? "");
  rmSync(second ?? "");
  symlinkSync(third ?? "", second ?? "");
  const { source, total } = await collectYield({ folder, ...ALL });
  expect(source.travellersCompared).toBe(2);
  expect(source.broken.map(({ path }) => path)).toEqual([second]);
  expect(total.inspected).toBe(2);
});

describe.each(["beside its index", "without an index"])("a traveller that can't be read, %s,", (how) => {
  it.each(UNREADABLE)("is left out and named, and the others are counted: %s", async (_, put, words) => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    for (const serial of ["A1", "A2", "A3"]) await tested(store, serial, "pass");
    await close(store);
    const path = join(folder, (await listRecords(folder))[1]?.path ?? "");
    rmSync(path);
    put(path);
    if (how === "without an index") rmSync(join(folder, ".index.db"));
    const { source, total } = await collectYield({ folder, ...ALL });
    expect(source.broken).toEqual([{ path, problem: expect.stringMatching(words) }]);
    expect(total).toMatchObject({ inspected: 2, tests: 2 });
  });
});

describe.each(["beside its index", "without an index"])(
  "a unit of which a traveller is broken, %s,",
  (how) => {
    it.each<[string, readonly ["pass" | "fail", "pass" | "fail"], number]>([
      ["its newest test, a fail", ["pass", "fail"], 1],
      ["its first test, a fail", ["fail", "pass"], 0],
    ])("is in doubt, and not good, as find says: %s", async (_, [first, second], broken) => {
      const folder = scratchFolder();
      const { store } = await open(folder);
      const tests = [await tested(store, "A1", first), await tested(store, "A1", second)];
      await tested(store, "A2", "pass");
      await close(store);
      writeFileSync(tests[broken]?.path ?? "", "{");
      if (how === "without an index") rmSync(join(folder, ".index.db"));
      const { total, heldUnits } = await collectYield({ folder, ...ALL });
      expect(heldUnits).toMatchObject([{ serial: "A1", reason: expect.stringContaining("not all of its") }]);
      expect(total.good.count).toBe(1);
      expect(find("A1", "--records", folder)).toMatchObject({
        status: 1,
        stdout: expect.stringContaining("IN DOUBT"),
      });
    });
  },
);
