import { readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import Database from "libsql";
import { describe, expect, it } from "vitest";
import { askedAtOneMoment } from "../../station/records/index-moment.ts";
import { knownDecisions } from "../../station/records/known-decisions.ts";
import { collectYield } from "../../station/yield-data/collect-yield.ts";
import { collectYieldDetail, type DetailQuery } from "../../station/yield-page/collect-yield-detail.ts";
import { decision, test as tested } from "../records/held-units.ts";
import { close, open } from "../records/running-store.ts";
import { scratchFolder, travellersIn } from "../records/scratch-folder.ts";
import { settleIndex } from "../records/settled-index.ts";
import { randomLine } from "../yield-data/random-line.ts";

const ALWAYS = {
  ...{ from_ms: null, to_ms: null, model: null, station: null, broken: [] },
  newest: Number.POSITIVE_INFINITY,
};

function detailOf(query: Omit<DetailQuery, "decisions">) {
  return askedAtOneMoment(query.folder, async ({ database }) =>
    collectYieldDetail({ ...query, decisions: await knownDecisions(query.folder) }, database),
  );
}

const ALL_DAYS = { from: null, to: null, by: ["model" as const], shifts: [] };

describe("what a page shows of a line's days", () => {
  it.each([1, 2, 3])(
    "has each inspected unit's leak rate once, and is the same by the index, by half of it, and by the travellers, seed %i",
    async (seed) => {
      const folder = scratchFolder();
      const { store } = await open(folder);
      await randomLine(store, seed, "2026-01-05T05:00:00.000Z", 40);
      await close(store);
      const half = readFileSync(join(folder, ".index.db"));
      const again = await open(folder);
      await randomLine(again.store, seed + 100, "2026-01-08T05:00:00.000Z", 40);
      await close(again.store);
      const detail = await detailOf({ folder, ...ALWAYS });
      const report = await collectYield({ folder, ...ALL_DAYS });
      const models = report.breakdowns[0]?.groups ?? [];
      expect(models.length).toBeGreaterThan(1);
      for (const { name, counts } of models) {
        const leak = detail.measured.find(
          ({ model, measurand }) => model === name && measurand === "leak_rate",
        );
        expect([name, (leak?.values.length ?? 0) + (leak?.withoutValue ?? 0)]).toEqual([
          name,
          counts.inspected,
        ]);
      }
      writeFileSync(join(folder, ".index.db"), half);
      expect(await detailOf({ folder, ...ALWAYS })).toEqual(detail);
      rmSync(join(folder, ".index.db"));
      expect(await detailOf({ folder, ...ALWAYS })).toEqual(detail);
    },
  );

  it.each([
    ["a unit", "DELETE FROM units WHERE serial = 'A2'"],
    ["what a test measured", "DELETE FROM stored_values WHERE sequence = 2"],
  ])("is the same, by the travellers, where the index lacks %s", async (_, sql) => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    for (const serial of ["A1", "A2", "A3"]) await tested(store, serial, "pass");
    await close(store);
    const detail = await detailOf({ folder, ...ALWAYS });
    expect(detail.measured.flatMap(({ serials }) => serials)).toEqual(["A1", "A2", "A3"]);
    const database = new Database(settleIndex(folder));
    database.exec(sql);
    database.close();
    expect(await detailOf({ folder, ...ALWAYS })).toEqual(detail);
  });

  it("lists each failed test with what has become of its unit and where its traveller lies", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await tested(store, "A1", "pass");
    await tested(store, "A2", "fail");
    await tested(store, "A2", "pass");
    const scrapped = await tested(store, "A3", "fail");
    await store.dispose(decision("scrap", scrapped));
    const held = await tested(store, "A4", "fail");
    await store.dispose(decision("hold", held));
    const doubted = await tested(store, "A5", "fail");
    await store.dispose(decision("doubt", doubted));
    await tested(store, "A6", "void");
    await close(store);
    const { failures, notes } = await detailOf({ folder, ...ALWAYS });
    expect(failures.map(({ serial, attempt, now }) => [serial, attempt, now])).toEqual([
      ["A2", 1, "good"],
      ["A3", 1, "scrapped"],
      ["A4", 1, "held"],
    ]);
    expect(notes).toEqual([
      "1 test that a reference check has put in doubt is in no chart and no list here.",
    ]);
    const travellers = await travellersIn(folder);
    for (const { path, serial, attempt } of failures) {
      const read = JSON.parse(readFileSync(join(folder, path), "utf8"));
      expect([read.serial, read.attempt.number]).toEqual([serial, attempt]);
    }
    expect(travellers).toHaveLength(7);
  });

  it("takes a unit's first trusted test for its inspection, and of the days asked for only", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const first = await tested(store, "B1", "pass");
    await store.dispose(decision("doubt", first));
    await tested(store, "B1", "pass");
    await tested(store, "B2", "pass");
    await close(store);
    const { measured } = await detailOf({ folder, ...ALWAYS });
    expect(measured.flatMap(({ serials }) => serials)).toEqual(["B1", "B2"]);
    const [test] = await travellersIn(folder);
    const at_ms = Date.parse(test?.ended_at ?? "");
    const before = await detailOf({ folder, ...ALWAYS, to_ms: at_ms });
    expect(before.measured).toEqual([]);
    const from = await detailOf({ folder, ...ALWAYS, from_ms: at_ms, to_ms: at_ms + 1 });
    expect(from.measured.flatMap(({ serials }) => serials)).toEqual(["B1", "B2"]);
  });

  it("leaves out travellers that the yield report calls broken", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await tested(store, "C1", "fail");
    await tested(store, "C2", "fail");
    await close(store);
    const all = await detailOf({ folder, ...ALWAYS });
    const broken = [{ path: join(folder, all.failures[0]?.path ?? "") }];
    const left = await detailOf({ folder, ...ALWAYS, broken });
    expect(left.failures.map(({ serial }) => serial)).toEqual(["C2"]);
  });

  it("calls no unit good of which a traveller is broken", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    for (const verdict of ["fail", "pass", "fail"] as const) await tested(store, "C1", verdict);
    await close(store);
    const { failures } = await detailOf({ folder, ...ALWAYS });
    expect(failures.map(({ attempt, now }) => [attempt, now])).toEqual([
      [1, "failed"],
      [3, "failed"],
    ]);
    const broken = [{ path: join(folder, failures[1]?.path ?? "") }];
    writeFileSync(broken[0]?.path ?? "", "{");
    rmSync(join(folder, ".index.db"));
    const left = await detailOf({ folder, ...ALWAYS, broken });
    expect(left.failures.map(({ attempt, now }) => [attempt, now])).toEqual([[1, "in doubt"]]);
  });
});
