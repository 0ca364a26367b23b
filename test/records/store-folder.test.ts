import {
  copyFileSync,
  existsSync,
  mkdirSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { dirname, join } from "node:path";
import { describe, expect, it, test } from "vitest";
import { type Disk, REAL_DISK } from "../../station/records/disk.ts";
import { RecordStore } from "../../station/records/store.ts";
import { facts, outcome, stoppedClock } from "./example-attempt.ts";
import { close, open, record } from "./running-store.ts";
import { readOnlyView, scratchDisk, scratchFolder, travellersIn } from "./scratch-folder.ts";

describe("the index", () => {
  test.each([
    ["is deleted", (path: string) => rmSync(path)],
    ["is no database", (path: string) => writeFileSync(path, "rubbish ".repeat(2000))],
    ["is empty", (path: string) => writeFileSync(path, "")],
    ["is cut short", (path: string) => writeFileSync(path, readFileSync(path).subarray(0, 5000))],
  ])("is made anew from the files when it %s", async (_, spoil) => {
    const folder = scratchFolder();
    const first = await open(folder);
    for (const serial of ["A1", "A2", "A3"]) await record(first.store, serial);
    const before = await first.store.history("A2");
    await close(first.store);
    for (const suffix of ["-wal", "-shm"]) rmSync(join(folder, `.index.db${suffix}`), { force: true });
    // A new file, as another process would see it: in this one SQLite may still hold the old one.
    renameSync(join(folder, ".index.db"), join(folder, "old"));
    copyFileSync(join(folder, "old"), join(folder, ".index.db"));
    spoil(join(folder, ".index.db"));
    const { store } = await open(folder);
    expect(await store.history("A2")).toEqual(before);
    expect((await record(store, "A4")).traveller.chain.sequence).toBe(4);
  });

  it("catches up with files it does not have", async () => {
    const folder = scratchFolder();
    const first = await open(folder);
    await record(first.store, "A1");
    await close(first.store);
    const old = [".index.db", ".index.db-wal", ".index.db-shm"]
      .map((name) => join(folder, name))
      .filter(existsSync);
    const kept = old.map((path) => [path, readFileSync(path)] as const);
    const second = await open(folder);
    await record(second.store, "A2");
    await close(second.store);
    for (const name of [".index.db-wal", ".index.db-shm"]) rmSync(join(folder, name), { force: true });
    for (const [path, bytes] of kept) writeFileSync(path, bytes);
    const { store } = await open(folder);
    expect(await store.history("A2")).toHaveLength(1);
  });
});

describe("a folder that is not as it was recorded is refused, naming the file", () => {
  async function records(...serials: string[]) {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const paths: string[] = [];
    for (const serial of serials) paths.push((await record(store, serial)).path);
    await close(store);
    return { folder, paths };
  }
  const threeRecords = () => records("A1", "A2", "A3");
  const edit = (path: string) =>
    writeFileSync(path, readFileSync(path, "utf8").replace('"value":22.4', '"value":12.4'));

  it("when the last traveller was changed", async () => {
    const { folder, paths } = await threeRecords();
    edit(paths[2] ?? "");
    await expect(open(folder)).rejects.toMatchObject({ code: "CORRUPT", path: paths[2] });
  });

  it("when the last but one was changed, index or no index", async () => {
    const { folder, paths } = await threeRecords();
    edit(paths[1] ?? "");
    await expect(open(folder)).rejects.toMatchObject({ code: "CORRUPT", path: paths[1] });
    rmSync(join(folder, ".index.db"));
    await expect(open(folder)).rejects.toMatchObject({ code: "CORRUPT", path: paths[2] });
  });

  it("when one in the middle or the last is gone", async () => {
    const { folder, paths } = await threeRecords();
    renameSync(paths[1] ?? "", join(folder, "kept"));
    await expect(open(folder)).rejects.toMatchObject({ code: "CORRUPT", path: paths[1] });
    renameSync(join(folder, "kept"), paths[1] ?? "");
    rmSync(paths[2] ?? "");
    await expect(open(folder)).rejects.toMatchObject({ code: "CORRUPT", path: paths[2] });
  });

  it("when a number is there twice", async () => {
    const { folder, paths } = await threeRecords();
    const copy = join(dirname(paths[1] ?? ""), "00000002-B9-1.json");
    copyFileSync(paths[1] ?? "", copy);
    await expect(open(folder)).rejects.toMatchObject({ code: "CORRUPT", path: copy });
  });

  describe.each([
    ["with its index", true],
    ["without an index", false],
  ])("when a traveller was renamed, %s", (_, isIndexed) => {
    test.each([
      ["to another serial", (path: string) => path.replace("-A1-", "-B9-")],
      ["to another attempt", (path: string) => path.replace("-A1-1", "-A1-2")],
      ["to another way to write its number", (path: string) => path.replace("00000001", "000000001")],
      ["into another day", (path: string) => path.replace("2026/01/05", "2026/01/06")],
    ])("%s", async (_, rename) => {
      // Five, so that it is none of those that every start reads.
      const { folder, paths } = await records("A1", "A2", "A3", "A4", "A5");
      const path = paths[0] ?? "";
      mkdirSync(dirname(rename(path)), { recursive: true });
      renameSync(path, rename(path));
      if (!isIndexed) rmSync(join(folder, ".index.db"));
      await expect(open(folder)).rejects.toMatchObject({
        code: "CORRUPT",
        path: rename(path),
        message: expect.stringContaining("2026/01/05/00000001-A1-1.json"),
      });
    });
  });

  it("but files that are no records do not matter", async () => {
    const { folder, paths } = await threeRecords();
    for (const name of ["notes.txt", "00000002-A2-1.json~", ".DS_Store"]) {
      writeFileSync(join(dirname(paths[0] ?? ""), name), "x");
    }
    await open(folder);
  });
});

describe("a folder that can't be used is refused", () => {
  it("when it is read-only, whether it was used before or not", async () => {
    const disk = scratchDisk(1024);
    await close((await open(join(disk, "used"))).store);
    const readOnly = readOnlyView(disk);
    for (const name of ["used", "new"]) {
      await expect(open(join(readOnly, name))).rejects.toMatchObject({
        code: "NOT_WRITABLE",
        message: expect.stringContaining("write access"),
      });
    }
  });

  it("when its name is empty, and nothing is made where the program was started", async () => {
    await expect(open("")).rejects.toMatchObject({ message: expect.stringContaining("is empty") });
    expect(existsSync(".open")).toBe(false);
  });

  it("when a file is in its place", async () => {
    const path = join(scratchFolder(), "records");
    writeFileSync(path, "");
    await expect(open(path)).rejects.toMatchObject({ code: "NOT_WRITABLE" });
  });

  it("when it goes away while the station runs, and it is not made again", async () => {
    const folder = join(scratchFolder(), "records");
    const { store } = await open(folder);
    const attempt = await store.begin(facts("A1"));
    renameSync(folder, `${folder}-unplugged`);
    await expect(store.commit(attempt, outcome())).rejects.toMatchObject({ code: "FOLDER_GONE" });
    expect(existsSync(folder)).toBe(false);
    renameSync(`${folder}-unplugged`, folder);
    await store.commit(attempt, outcome());
    expect(await travellersIn(folder)).toHaveLength(1);
  });

  it("when another store has it, until that one is closed", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await expect(open(folder)).rejects.toMatchObject({
      code: "FOLDER_IN_USE",
      message: expect.stringMatching(
        /^Station "line 1" \(process \d+ on .*, since 2026-01-05T06:00:00.000Z\) is using/,
      ),
    });
    await record(store, "A1");
    await close(store);
    await open(folder);
  });

  it("until it was closed, even where the share it lies on no longer answered", async () => {
    const folder = scratchFolder();
    let isGone = false;
    const disk: Disk = {
      ...REAL_DISK,
      removeNow(path) {
        if (isGone) throw Object.assign(new Error(`ESTALE: unlink '${path}'`), { code: "ESTALE" });
        REAL_DISK.removeNow(path);
      },
    };
    const { store } = await RecordStore.open({ folder, clock: stoppedClock(), station: "line 1", disk });
    isGone = true;
    await store.close();
    await open(folder);
  });

  it("after it was closed", async () => {
    const { store } = await open(scratchFolder());
    await close(store);
    await expect(store.begin(facts("A1"))).rejects.toMatchObject({ code: "NOT_OPEN" });
  });
});

it("tells how much may still be written", async () => {
  const { store } = await open(join(scratchDisk(2048), "records"));
  const free = await store.freeBytes();
  expect(free).toBeGreaterThan(1_000_000);
  expect(free).toBeLessThan(2048 * 1024);
});
