import { copyFileSync, renameSync, rmSync } from "node:fs";
import { join } from "node:path";
import fc from "fast-check";
import Database from "libsql";
import { describe, expect, it } from "vitest";
import { RecordIndex } from "../../station/records/index-db.ts";
import { indexedAttempt, summaryOf } from "../../station/records/indexed-attempt.ts";
import { outcome, SUSPECTS } from "./example-attempt.ts";
import { check, test } from "./held-units.ts";
import { close, open, record } from "./running-store.ts";
import { scratchFolder } from "./scratch-folder.ts";

const FAILED = outcome({
  verdict: "fail",
  reasons: [
    { code: "GROSS_LEAK", sentence: "It leaks." },
    { code: "OUT_OF_LIMITS", sentence: "The leak rate is above its limit." },
  ],
  characteristics: outcome().characteristics.map((it) => ({ ...it, verdict: "fail" as const })),
  suspects: SUSPECTS,
});

describe("the index knows of an attempt", () => {
  it("what it failed by, of what it is suspected first, the codes, and what a reference piece read", async () => {
    const { store } = await open(scratchFolder());
    await record(store, "A1", 1, FAILED);
    await check(store, "pass");
    await check(store, "void");
    expect(await store.attemptsSince(0)).toMatchObject([
      {
        serial: "A1",
        codes: ["GROSS_LEAK", "OUT_OF_LIMITS"],
        causes: ["gross leak", "leak rate"],
        suspect: "blocked path",
        reference: null,
      },
      {
        causes: [],
        suspect: null,
        reference: { measured: 15.2, certified: 15, tolerance: 2, unit: "mL/min" },
      },
      { codes: ["ABORTED"], reference: { measured: null, certified: 15 } },
    ]);
  });

  it("the same as the traveller says, whether it was added or read from the files again", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const recorded = [await record(store, "A1", 1, FAILED), await check(store, "fail")];
    const added = await store.attemptsSince(0);
    await close(store);
    for (const suffix of ["", "-wal", "-shm"]) rmSync(join(folder, `.index.db${suffix}`), { force: true });
    const again = await open(folder);
    expect(await again.store.attemptsSince(0)).toEqual(added);
    expect(added).toEqual(
      recorded.map(({ traveller, sha256, path }) =>
        summaryOf(traveller, sha256, path.slice(folder.length + 1)),
      ),
    );
  });
});

it("an index of the version before is made anew, and nobody reads it meanwhile", async () => {
  const folder = scratchFolder();
  const first = await open(folder);
  await test(first.store, "A1");
  await close(first.store);
  // A new file, as another process would see it: in this one SQLite may still hold the old one.
  renameSync(join(folder, ".index.db"), join(folder, "old"));
  copyFileSync(join(folder, "old"), join(folder, ".index.db"));
  const old = new Database(join(folder, ".index.db"));
  old.exec("PRAGMA user_version = 1; DROP TABLE heads; ALTER TABLE attempts DROP COLUMN causes");
  old.close();
  expect(RecordIndex.openToRead(folder)).toBeUndefined();
  const { store } = await open(folder);
  expect(await store.attemptsSince(0)).toMatchObject([{ serial: "A1", causes: [] }]);
});

it("an index that counts other attempts than it has is made anew", async () => {
  const folder = scratchFolder();
  const first = await open(folder);
  for (const serial of ["A1", "A2", "A3"]) await test(first.store, serial);
  await close(first.store);
  const index = new Database(join(folder, ".index.db"));
  // As many as it has numbers, one of which is of nobody that was counted.
  index.exec("DROP TRIGGER attempts_gone; DELETE FROM attempts WHERE sequence = 2");
  index.close();
  const { store } = await open(folder);
  expect((await store.attemptsSince(0)).map(({ serial }) => serial)).toEqual(["A1", "A2", "A3"]);
  await test(store, "A4");
  const read = RecordIndex.openToRead(folder);
  expect(read?.countedEnd()).toEqual({ records: 4, last: 4 });
  expect(read?.end().records).toBe(4);
  read?.close();
});

it("finds the check that a test relied on however many records lie between them, and none that came later", async () => {
  const folder = scratchFolder();
  const { store } = await open(folder);
  const { sha256 } = await check(store, "pass");
  const unit = await record(store, "A1", 1, FAILED);
  const read = RecordIndex.openToRead(folder);
  expect(read?.checksBefore(1_000_000, [unit.sha256, sha256]).map(({ sequence }) => sequence)).toEqual([1]);
  expect(read?.checksBefore(1, [sha256])).toEqual([]);
  read?.close();
});

describe("asked for a time or a number", () => {
  it("gives what ended then or later, what nobody saw end by its start", async () => {
    const { store } = await open(scratchFolder());
    const ends = ["05:59:59.999", "06:00:00.000", "06:00:00.001"].map((time) => `2026-01-05T${time}Z`);
    for (const [i, ended_at] of ends.entries()) await record(store, `A${i}`, 1, { ended_at });
    const since = await store.attemptsSince(Date.UTC(2026, 0, 5, 6));
    expect(since.map(({ serial }) => serial)).toEqual(["A1", "A2"]);
  });

  it("gives the last units, each once by its newest valid test, drafts and references left out", async () => {
    const { store } = await open(scratchFolder());
    const verdicts = ["pass", "fail", "void"] as const;
    const serials = ["A", "B", "A", "C", "A", "B"];
    for (const [i, serial] of serials.entries()) await test(store, serial, verdicts[i % 3]);
    await test(store, "D", "pass", { draft: true });
    await check(store, "pass");
    const last = async (count: number) =>
      (await store.lastUnits(count)).map(({ serial, attempt }) => `${serial}${attempt}`);
    expect(await last(2)).toEqual(["A3", "C1"]);
    expect(await last(5)).toEqual(["A3", "C1", "B1"]);
    expect(await last(0)).toEqual([]);
  });

  it("gives the last units however often the newest were tested, as a list of all of them would", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const { traveller, sha256 } = await test(store, "A");
    const example = summaryOf(traveller, sha256, "x");
    const { stored } = indexedAttempt(traveller, sha256, "x");
    await close(store);
    const tested = fc.tuple(fc.nat(6), fc.constantFrom("pass" as const, "pass" as const, "void" as const));
    fc.assert(
      fc.property(fc.array(tested, { maxLength: 120 }), fc.nat(8), (units, count) => {
        const index = RecordIndex.open(folder);
        try {
          index.startAnew();
          const all = units.map(([unit, verdict], i) => ({
            ...example,
            sequence: i + 1,
            id: `${i}`,
            path: `${i}`,
            serial: `U${unit}`,
            verdict,
            attempt: i + 1,
          }));
          index.add(all.map((it) => ({ ...it, duration_s: 21.4, stored })));
          const newestFirst = all.filter(({ verdict }) => verdict !== "void").reverse();
          const expected = newestFirst.filter(
            (one, i) => newestFirst.findIndex(({ serial }) => serial === one.serial) === i,
          );
          expect(index.lastUnits(count)).toEqual(expected.slice(0, count));
        } finally {
          index.close();
        }
      }),
      { numRuns: 40 },
    );
  });
});
