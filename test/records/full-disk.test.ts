import {
  mkdirSync,
  readdirSync,
  readFileSync,
  statfsSync,
  statSync,
  truncateSync,
  writeFileSync,
} from "node:fs";
import { join } from "node:path";
import { expect, it, test } from "vitest";
import { encodeCurve } from "../../station/records/curve.ts";
import { rebuildIndex } from "../../station/records/index-rebuild.ts";
import { RecordError } from "../../station/records/record-error.ts";
import { RecordStore } from "../../station/records/store.ts";
import { decay, facts, outcome, stoppedClock } from "./example-attempt.ts";
import { check, test as tested } from "./held-units.ts";
import { scratchDisk, travellersIn } from "./scratch-folder.ts";
import { writeTravellers } from "./written-travellers.ts";

const PAGE = 4096;
/** About 18 kB, so that it can run out of disk in its middle. */
const longOutcome = outcome({
  curves: [{ step: "leak", channel: "pressure", ...encodeCurve(decay(4000), "mPa") }],
});

async function open(folder: string) {
  const { store, interrupted } = await RecordStore.open({ folder, clock: stoppedClock(), station: "line 1" });
  return { store, interrupted };
}

/** Fills the disk up to so many free pages. @returns a way to free it again */
function fill(disk: string, freePages: number): () => void {
  const filler = join(disk, "filler");
  writeFileSync(filler, "");
  const { bavail } = statfsSync(disk);
  writeFileSync(filler, Buffer.alloc(Math.max(0, bavail - freePages) * PAGE));
  return () => truncateSync(filler, 0);
}

async function failure(work: Promise<unknown>): Promise<RecordError | undefined> {
  try {
    await work;
    return undefined;
  } catch (error) {
    expect(error).toBeInstanceOf(RecordError);
    return error instanceof RecordError ? error : undefined;
  }
}

test.each([0, 1, 2, 3, 4, 5, 6, 8, 12])(
  "with %i pages left a traveller is written whole or not at all, and the attempt is void after the restart",
  async (pages) => {
    const disk = scratchDisk(1024);
    const folder = join(disk, "records");
    const first = await open(folder);
    const earlier = await first.store.commit(await first.store.begin(facts("A0")), longOutcome);
    const attempt = await first.store.begin(facts("A1"));
    const free = fill(disk, pages);
    const failed = await failure(first.store.commit(attempt, longOutcome));
    if (failed)
      expect(failed).toMatchObject({ code: "DISK_FULL", message: expect.stringContaining("disk is full") });
    expect(failed === undefined).toBe(pages * PAGE >= statSync(earlier.path).size);
    expect(await travellersIn(folder)).toHaveLength(failed ? 1 : 2);
    expect(readdirSync(join(folder, ".open")).filter((name) => name.endsWith(".part"))).toEqual([]);
    // Recorded or not, the history agrees with the files, even where the index had no room.
    expect(await first.store.history("A1")).toHaveLength(failed ? 0 : 1);
    await first.store.close();
    free();
    const { store } = await open(folder);
    expect(await travellersIn(folder)).toMatchObject([
      { serial: "A0", verdict: "pass" },
      { serial: "A1", verdict: failed ? "void" : "pass" },
    ]);
    await store.close();
  },
);

test.each([0, 1, 2, 3, 4])(
  "with %i pages left a hold is written whole or not at all, and is made up for once there is room",
  async (pages) => {
    const disk = scratchDisk(1024);
    const folder = join(disk, "records");
    const first = await open(folder);
    const a = await tested(first.store, "A1");
    await check(first.store, "fail");
    const free = fill(disk, pages);
    const failed = await failure(first.store.ensureHolds());
    if (failed) {
      expect(failed).toMatchObject({ code: "DISK_FULL", message: expect.stringContaining("disk is full") });
    }
    expect((await first.store.inDoubt()).inDoubt.size).toBe(failed ? 0 : 1);
    free();
    expect(await first.store.ensureHolds()).toHaveLength(failed ? 1 : 0);
    expect([...(await first.store.inDoubt()).inDoubt]).toEqual([a.sha256]);
    expect(readdirSync(join(folder, "dispositions"))).toEqual(["00000001.json"]);
    await first.store.close();
    const { store } = await open(folder);
    expect([...(await store.inDoubt()).inDoubt]).toEqual([a.sha256]);
    await store.close();
  },
);

it("says that an event could not be noted on a full disk, and notes it once there is room", async () => {
  const disk = scratchDisk(1024);
  const { store } = await open(join(disk, "records"));
  await store.note({ event: "opened" });
  const free = fill(disk, 0);
  expect(await failure(store.note({ event: "closed" }))).toMatchObject({ code: "DISK_FULL" });
  free();
  await store.note({ event: "closed" });
  expect((await store.eventsSince(0)).map(({ event }) => event)).toEqual(["opened", "closed"]);
  await store.close();
});

it("commits the same attempt once space was freed", async () => {
  const disk = scratchDisk(1024);
  const { store } = await open(join(disk, "records"));
  const attempt = await store.begin(facts("A1"));
  const free = fill(disk, 1);
  expect(await failure(store.commit(attempt, longOutcome))).toMatchObject({ code: "DISK_FULL" });
  free();
  await store.commit(attempt, longOutcome);
  expect(await travellersIn(join(disk, "records"))).toMatchObject([
    { verdict: "pass", chain: { sequence: 1 } },
  ]);
  await store.close();
});

it("does not begin an attempt, nor start at all, on a disk that is full", async () => {
  const disk = scratchDisk(1024);
  const folder = join(disk, "records");
  const { store } = await open(folder);
  fill(disk, 0);
  expect(await failure(store.begin(facts("A1")))).toMatchObject({ code: "DISK_FULL" });
  await store.close();
  expect(await failure(open(folder))).toMatchObject({ code: "DISK_FULL" });
});

it("keeps recording while only the index has no room, and the index catches up", async () => {
  const disk = scratchDisk(2048);
  const folder = join(disk, "records");
  const { store } = await open(folder);
  const attempts = [];
  for (let at = 0; at < 12; at++) attempts.push(await store.begin(facts(`A${at}`)));
  const free = fill(disk, 30);
  let recorded = 0;
  for (const attempt of attempts) {
    if (await failure(store.commit(attempt, outcome()))) break;
    recorded++;
  }
  expect(await travellersIn(folder)).toHaveLength(recorded);
  for (let at = 0; at < recorded; at++) expect(await store.history(`A${at}`)).toHaveLength(1);
  free();
  for (const attempt of attempts.slice(recorded)) await store.commit(attempt, outcome());
  for (let at = 0; at < 12; at++) expect(await store.history(`A${at}`)).toHaveLength(1);
  await store.close();
});

it("has no room for a new index: the old one stays as it was, and what to do is nothing a station would have to", async () => {
  const disk = scratchDisk(1024);
  const folder = join(disk, "records");
  mkdirSync(folder);
  writeTravellers(folder, 60);
  await rebuildIndex({ folder, at_ms: 0 });
  const before = readFileSync(join(folder, ".index.db"));
  for (const pages of [4, 8, 16]) {
    const free = fill(disk, pages);
    const failed = await failure(rebuildIndex({ folder, at_ms: 0 }));
    expect(failed).toMatchObject({ code: "DISK_FULL", message: expect.stringContaining("Free some space") });
    expect(failed?.message).not.toContain("acknowledge");
    expect(readFileSync(join(folder, ".index.db")).equals(before)).toBe(true);
    expect(readdirSync(folder).filter((name) => name.startsWith(".index"))).toEqual([".index.db"]);
    free();
  }
  expect(await rebuildIndex({ folder, at_ms: 0 })).toBe(60);
});
