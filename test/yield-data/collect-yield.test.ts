import { createHash } from "node:crypto";
import { readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, describe, expect, it } from "vitest";
import { YIELD_GROUPINGS, type YieldCounts, type YieldReport } from "../../station/yield/yield-report.ts";
import { collectYield } from "../../station/yield-data/collect-yield.ts";
import type { YieldQuery } from "../../station/yield-data/yield-query.ts";
import { facts, outcome } from "../records/example-attempt.ts";
import { decision, test as tested } from "../records/held-units.ts";
import { close, open, record } from "../records/running-store.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { type NaiveUnit, naiveCount } from "./naive-count.ts";
import { randomLine } from "./random-line.ts";

const zone = process.env.TZ;
afterEach(() => {
  if (zone === undefined) delete process.env.TZ;
  else process.env.TZ = zone;
});

const ALL_TIME: Omit<YieldQuery, "folder"> = {
  from: null,
  to: null,
  by: YIELD_GROUPINGS,
  shifts: ["06:00", "14:00", "22:00"],
  listsUnits: true,
  now_ms: Date.parse("2026-12-01T00:00:00Z"),
};

function hash(bytes: Buffer): string {
  return createHash("sha256").update(bytes).digest("hex");
}

/** The counts alone, as the naive count has them. */
function plain(counts: YieldCounts) {
  return {
    inspected: counts.inspected,
    goodAtFirst: counts.firstPass.count,
    good: counts.good.count,
    failed: counts.failed.count,
    held: counts.held.count,
    scrapped: counts.scrapped.count,
    reworked: counts.reworked.count,
    reworkPassed: counts.reworkPassed.count,
    retested: counts.retested.of,
    retestPassed: counts.retested.count,
  };
}

function naively(units: readonly NaiveUnit[]) {
  const how = (is: (unit: NaiveUnit) => boolean) => units.filter(is).length;
  return {
    inspected: units.length,
    goodAtFirst: how((it) => it.goodAtFirst),
    good: how((it) => it.now === "good"),
    failed: how((it) => it.now === "failed"),
    held: how((it) => it.now === "held"),
    scrapped: how((it) => it.now === "scrapped"),
    reworked: how((it) => it.reworked),
    reworkPassed: how((it) => it.reworkPassed),
    retested: how((it) => it.retested),
    retestPassed: how((it) => it.retestPassed),
  };
}

function groupsOf(report: YieldReport, by: string) {
  return report.breakdowns.find((it) => it.by === by)?.groups ?? [];
}

describe("some days of an invented line", () => {
  it.each([
    { seed: 1, timeZone: "Europe/Berlin", begin: "2026-03-27T20:00:00.000Z" },
    { seed: 2, timeZone: "Europe/Berlin", begin: "2026-10-23T20:00:00.000Z" },
    { seed: 3, timeZone: "America/New_York", begin: "2026-10-30T20:00:00.000Z" },
    { seed: 4, timeZone: "Asia/Kolkata", begin: "2026-01-05T06:00:00.000Z" },
    { seed: 5, timeZone: "Australia/Lord_Howe", begin: "2026-04-03T06:00:00.000Z" },
  ])(
    "come to what a slow count of the files says, by the index and without one, in $timeZone, seed $seed",
    async ({ seed, timeZone, begin }) => {
      process.env.TZ = timeZone;
      const folder = scratchFolder();
      const { store } = await open(folder);
      await randomLine(store, seed, begin, 80);
      // While the station runs: by its index.
      const running = await collectYield({ folder, ...ALL_TIME });
      await close(store);
      const expected = naiveCount(folder, timeZone, hash);
      expect(plain(running.total)).toEqual(naively(expected.units));
      expect(running.total.tests).toBe(expected.testDays.length);
      expect(running.total.voidTests).toBe(expected.voids);
      expect(running.source).toMatchObject({
        drafts: expected.drafts,
        references: expected.references,
        broken: [],
      });
      expect(expected.units.some(({ now }) => now === "held")).toBe(true);
      const listed = new Map(running.units?.map((unit) => [unit.serial, unit]));
      expect(listed.size).toBe(running.units?.length);
      for (const { serial, now, day, parts } of expected.units) {
        const unit = listed.get(serial);
        const alike = { held: /^(held|in_doubt)$/, failed: /^(failed|reworked)$/ };
        expect([serial, unit?.state]).toEqual([
          serial,
          now === "good" || now === "scrapped" ? now : expect.stringMatching(alike[now]),
        ]);
        expect([serial, unit?.parts, unit?.first]).toEqual([
          serial,
          parts,
          expect.stringMatching(/pass|fail/),
        ]);
        const at = new Date(unit?.first_at ?? "");
        expect(new Intl.DateTimeFormat("sv-SE", { timeZone, dateStyle: "short" }).format(at)).toBe(day);
      }
      expect(running.units?.filter(({ first }) => first !== null)).toHaveLength(expected.units.length);
      const days = [...new Set([...expected.units.map(({ day }) => day), ...expected.testDays])].sort();
      expect(groupsOf(running, "day").map(({ name }) => name)).toEqual(days);
      for (const { name, counts } of groupsOf(running, "day")) {
        expect([name, plain(counts)]).toEqual([
          name,
          naively(expected.units.filter(({ day }) => day === name)),
        ]);
        expect(counts.tests).toBe(expected.testDays.filter((day) => day === name).length);
        const alone = await collectYield({ folder, ...ALL_TIME, from: name, to: name });
        expect(plain(alone.total)).toEqual(plain(counts));
      }
      for (const by of ["day", "shift", "hour", "model", "station", "revision"]) {
        const groups = groupsOf(running, by).map(({ counts }) => counts);
        const sum = (of: (counts: YieldCounts) => number) => groups.reduce((all, it) => all + of(it), 0);
        for (const key of Object.keys(plain(running.total)) as (keyof ReturnType<typeof plain>)[]) {
          expect([by, key, sum((it) => plain(it)[key])]).toEqual([by, key, plain(running.total)[key]]);
        }
        expect([by, sum(({ tests }) => tests)]).toEqual([by, running.total.tests]);
      }
      const cavities = groupsOf(running, "cavity").filter(({ name }) => name.startsWith("tub_cavity"));
      expect(cavities.reduce((all, { counts }) => all + counts.inspected, 0)).toBe(running.total.inspected);
      for (const { name, counts } of cavities) {
        const units = expected.units.filter(({ parts }) => `tub_cavity ${parts.tub_cavity}` === name);
        expect([name, plain(counts)]).toEqual([name, naively(units)]);
      }
      const together = await collectYield({ folder, ...ALL_TIME, by: [] });
      rmSync(join(folder, ".index.db"));
      const { notes: _, ...byFiles } = await collectYield({ folder, ...ALL_TIME });
      const { notes: __, ...byIndex } = running;
      expect(byFiles).toEqual(byIndex);
      expect(await collectYield({ folder, ...ALL_TIME, by: [] })).toEqual(together);
    },
  );
});

describe("a yield from records", () => {
  it("counts tests that the index does not have yet, a unit's second one too", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await tested(store, "A1", "fail");
    await close(store);
    const index = readFileSync(join(folder, ".index.db"));
    const again = await open(folder);
    await tested(again.store, "A1", "pass");
    await tested(again.store, "A2", "pass");
    await close(again.store);
    writeFileSync(join(folder, ".index.db"), index);
    const { total, source } = await collectYield({
      folder,
      ...ALL_TIME,
      from: "2026-01-05",
      to: "2026-01-05",
    });
    expect(plain(total)).toMatchObject({
      inspected: 2,
      goodAtFirst: 1,
      good: 2,
      retested: 1,
      retestPassed: 1,
    });
    expect(source).toMatchObject({ travellersCompared: 3, broken: [] });
  });

  it("names travellers that were changed, removed or slipped in, and counts none of them", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const made = [];
    for (const serial of ["A1", "A2", "A3", "A4"]) made.push(await record(store, serial));
    await close(store);
    const [changed, removed, kept] = made.map(({ path }) => path) as [string, string, string, string];
    writeFileSync(changed, readFileSync(changed, "utf8").replace("22.4", "22.3"));
    rmSync(removed);
    writeFileSync(kept.replace("00000003", "00000002").replace("A3", "X9"), readFileSync(kept));
    const { total, source } = await collectYield({ folder, ...ALL_TIME });
    expect(total).toMatchObject({ inspected: 2, tests: 2 });
    expect(source.travellersCompared).toBe(2);
    const problems = Object.fromEntries(
      source.broken.map(({ path, problem }) => [path.split("-").at(-2), problem]),
    );
    expect(problems).toEqual({
      A1: expect.stringContaining("changed after it was recorded"),
      A2: expect.stringContaining("not there any more"),
      X9: expect.stringContaining("was recorded as"),
    });
  });

  it("says when limits judged first and last by travellers that count alone", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const paths = [];
    for (const hour of [6, 7, 8, 9]) {
      const ended_at = `2026-01-05T0${hour}:00:21.400Z`;
      paths.push((await store.commit(await store.begin(facts(`A${hour}`)), outcome({ ended_at }))).path);
    }
    await close(store);
    for (const at of [0, 3]) writeFileSync(paths[at] ?? "", "{}");
    const { source, limitRevisions } = await collectYield({ folder, ...ALL_TIME, by: [] });
    const [first_at, last_at] = ["2026-01-05T07:00:21.400Z", "2026-01-05T08:00:21.400Z"];
    expect(limitRevisions).toMatchObject([{ first_at, last_at, tests: 2 }]);
    expect(source).toMatchObject({ firstTest_at: first_at, lastTest_at: last_at });
  });

  it("finds a changed traveller without an index by the one after it", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const made = [];
    for (const serial of ["A1", "A2", "A3"]) made.push(await record(store, serial));
    await close(store);
    rmSync(join(folder, ".index.db"));
    const path = made[1]?.path ?? "";
    writeFileSync(path, readFileSync(path, "utf8").replace("22.4", "22.3"));
    const { total, source } = await collectYield({ folder, ...ALL_TIME });
    expect(total.inspected).toBe(2);
    expect(source.broken.map((it) => it.path)).toEqual([path]);
  });

  it("takes no retest for a first inspection whose own traveller can't be read", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const first = await tested(store, "A1", "fail");
    await tested(store, "A1", "pass");
    await tested(store, "A2", "pass");
    await close(store);
    writeFileSync(first.path, "{}");
    for (const way of ["index", "files"]) {
      if (way === "files") rmSync(join(folder, ".index.db"));
      const { total, notes } = await collectYield({ folder, ...ALL_TIME });
      expect(plain(total), way).toMatchObject({ inspected: 1, goodAtFirst: 1, good: 1 });
      expect(notes.join(" "), way).toContain("1 unit");
    }
  });

  it("lists units that must not be shipped, with who holds them and why", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const [a, b] = [await tested(store, "A1"), await tested(store, "A2")];
    await tested(store, "A3");
    await store.dispose(decision("hold", a));
    await store.dispose(decision("doubt", b));
    await close(store);
    const { heldUnits, total, notes } = await collectYield({ folder, ...ALL_TIME });
    expect(heldUnits).toEqual([
      expect.objectContaining({ serial: "A1", by: "S. Ode", reason: "The gasket's lot is doubtful." }),
      expect.objectContaining({ serial: "A2", by: null }),
    ]);
    // A measurement that can't be trusted was no inspection; what somebody holds was inspected.
    expect(plain(total)).toMatchObject({ inspected: 2, goodAtFirst: 2, good: 1, held: 1 });
    expect(notes.join(" ")).toContain("can be trusted");
  });

  it("tells what is held of a unit that was never measured, and of one whose travellers are not as recorded", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const [never, spoilt] = [await tested(store, "A1", "void"), await tested(store, "A2")];
    await tested(store, "A3");
    await store.dispose(decision("hold", never));
    await store.dispose(decision("hold", spoilt));
    await close(store);
    writeFileSync(spoilt.path, "{}");
    for (const way of ["index", "files"]) {
      if (way === "files") rmSync(join(folder, ".index.db"));
      const { heldUnits, total, notes } = await collectYield({ folder, ...ALL_TIME });
      expect(
        heldUnits.map(({ serial }) => serial),
        way,
      ).toEqual(["A1"]);
      expect(notes.join(" "), way).toMatch(/ON HOLD besides.*: 1 unit that must not ship/);
      expect(plain(total), way).toMatchObject({ inspected: 1, held: 0 });
    }
  });

  it("tells in a note that units of other days are on hold", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await store.dispose(decision("hold", await tested(store, "A1")));
    await close(store);
    const other = { folder, ...ALL_TIME, from: "2026-01-06", to: "2026-01-06" };
    expect((await collectYield(other)).notes.join(" ")).toContain("1 unit that must not ship");
    expect((await collectYield({ ...other, model: "another" })).notes.join(" ")).not.toContain("ship");
  });

  it("refuses where the dispositions have gone that the index knows of: nobody knows what is held", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await store.dispose(decision("hold", await tested(store, "A1")));
    await close(store);
    renameSync(join(folder, "dispositions"), join(folder, "gone"));
    await expect(collectYield({ folder, ...ALL_TIME })).rejects.toThrow(
      "was recorded and is not there any more",
    );
  });

  it("counts only the model, or the station, that is asked for", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await tested(store, "A1", "pass", { model: "TUB-12" });
    await tested(store, "A2", "fail", { model: "POD-4", station: { ...facts("A").station, name: "line 2" } });
    await close(store);
    const only = async (more: Partial<YieldQuery>) =>
      (await collectYield({ folder, ...ALL_TIME, ...more })).total;
    expect(plain(await only({ model: "TUB-12" }))).toMatchObject({ inspected: 1, good: 1 });
    expect(plain(await only({ station: "line 2" }))).toMatchObject({ inspected: 1, failed: 1 });
    expect(plain(await only({ model: "TUB-12", station: "line 2" }))).toMatchObject({ inspected: 0 });
  });

  it("of a day without tests is nothing, and says so", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await record(store, "A1");
    await close(store);
    for (const [day, words] of [
      ["2026-01-06", "No unit was tested on 2026-01-06."],
      ["2027-01-06", "No unit was tested on 2027-01-06, which is still to come."],
    ] as const) {
      const { total, notes, failingCharacteristics } = await collectYield({
        folder,
        ...ALL_TIME,
        from: day,
        to: day,
      });
      expect(total).toMatchObject({ inspected: 0, firstPass: { value: null }, rolledThroughputYield: null });
      expect(failingCharacteristics).toEqual([]);
      expect(notes).toEqual([words]);
    }
  });

  it("of a folder without any test is nothing", async () => {
    const folder = scratchFolder();
    expect(readdirSync(folder)).toEqual([]);
    expect((await collectYield({ folder, ...ALL_TIME })).total.inspected).toBe(0);
  });

  it.each([
    { more: { from: "2026-02-30" }, says: '"2026-02-30" is no day' },
    { more: { from: "2026-01-06", to: "2026-01-05" }, says: "comes after the last" },
    { more: { shifts: [] }, says: "when shifts begin" },
    { more: { folder: "/nowhere/at/all" }, says: "There is no records folder" },
  ])("is refused in one sentence: $says", async ({ more, says }) => {
    const folder = scratchFolder();
    await expect(collectYield({ folder, ...ALL_TIME, ...more })).rejects.toThrow(says);
  });
});
