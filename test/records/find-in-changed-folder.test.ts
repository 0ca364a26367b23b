import { copyFileSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import Database from "libsql";
import { describe, expect, it, test } from "vitest";
import { sha256Hex } from "../../station/records/chain.ts";
import { RecordStore } from "../../station/records/store.ts";
import { facts, outcome, stoppedClock } from "./example-attempt.ts";
import { find, reasons } from "./find-on-records.ts";
import { scratchFolder } from "./scratch-folder.ts";

describe("drumtight find, in a folder that somebody has been at", () => {
  /** Records 1 to 4, of A1, B2, A1 again and C3; the station is stopped. */
  async function stoppedStation() {
    const folder = scratchFolder();
    const { store } = await RecordStore.open({ folder, clock: stoppedClock(), station: "line 1" });
    const paths: string[] = [];
    for (const [serial, attempt] of [
      ["A1", 1],
      ["B2", 1],
      ["A1", 2],
      ["C3", 1],
    ] as const) {
      const is = attempt === 1 && serial === "A1" ? ({ verdict: "fail", reasons } as const) : {};
      paths.push((await store.commit(await store.begin(facts(serial, attempt)), outcome(is))).path);
    }
    await store.close();
    const [first = "", second = "", third = "", last = ""] = paths;
    return { folder, first, second, third, last, name: (path: string) => path.slice(folder.length + 1) };
  }
  const loseIndex = (folder: string) => {
    for (const end of ["", "-wal", "-shm"]) rmSync(join(folder, `.index.db${end}`), { force: true });
  };
  const attemptsIn = (stdout: string): { path: string; problem: string | null; traveller: unknown }[] =>
    JSON.parse(stdout).attempts;

  it("tells both names of a renamed traveller, under the serial it is about and the one it is named for", async () => {
    const { folder, second, name } = await stoppedStation();
    const renamed = second.replace("-B2-", "-D4-");
    renameSync(second, renamed);
    for (const serial of ["B2", "D4"]) {
      const { status, stdout, stderr } = find(serial, "--records", folder);
      expect(status).toBe(1);
      expect(stderr).toBe(
        `${renamed} is not as it was recorded: it was renamed: it is attempt 1 of B2 and was recorded as ${name(second)}. Tell the quality engineer.\n`,
      );
      // The result is B2's, and D4's nowhere.
      expect(stdout.includes("attempt 1 (first)")).toBe(serial === "B2");
    }
  });

  it("does so without an index too, where the name gives no hint of the serial", async () => {
    const { folder, second, name } = await stoppedStation();
    const renamed = second.replace("-B2-", "-D4-");
    renameSync(second, renamed);
    loseIndex(folder);
    for (const serial of ["B2", "D4"]) {
      const { status, stderr } = find(serial, "--records", folder);
      expect(status).toBe(1);
      expect(stderr).toBe(
        `${renamed} is not as it was recorded: by its content it is record number 2, attempt 1 of B2, and belongs in ${name(second)}. Tell the quality engineer.\n`,
      );
    }
  });

  test.each([
    ["in the middle", "first", "A1", "attempt 1 (fail)"],
    ["the only one of its serial", "second", "B2", "attempt 1 (pass)"],
    ["the last of all", "last", "C3", "attempt 1 (pass)"],
  ] as const)("says of a deleted traveller that it was recorded: %s", async (_, which, serial, what) => {
    const { folder, [which]: path } = await stoppedStation();
    rmSync(path);
    const problem = `${what} was recorded in it, and it is not there any more`;
    const { status, stdout, stderr } = find(serial, "--records", folder);
    expect([status, stderr]).toEqual([
      1,
      `${path} is not as it was recorded: ${problem}. Tell the quality engineer.\n`,
    ]);
    expect(stdout).toContain(`NOT AS RECORDED: ${path}: ${problem}`);
    const [missing] = attemptsIn(find(serial, "--records", folder, "--json").stdout);
    expect(missing).toMatchObject({ path, problem, traveller: null });
  });

  it("says nothing of it under another serial, whose records are all there", async () => {
    const { folder, second } = await stoppedStation();
    rmSync(second);
    expect(find("A1", "--records", folder)).toMatchObject({ status: 0, stderr: "" });
  });

  it("without an index, says which numbers are missing, with 1, whether the serial is found or not", async () => {
    const { folder, second } = await stoppedStation();
    rmSync(second);
    loseIndex(folder);
    const gap = (serial: string) =>
      `Attempts of ${serial} may be missing in ${folder}: record number 2 is not there, and no index says what it was about. Tell the quality engineer.\n`;
    expect(find("A1", "--records", folder)).toMatchObject({ status: 1, stderr: gap("A1") });
    const { status, stdout, stderr } = find("B2", "--records", folder);
    expect([status, stdout]).toEqual([1, ""]);
    expect(stderr).toMatch(/^No attempt of B2 is recorded in .*: check the serial/);
    expect(stderr).toContain(gap("B2"));
  });

  it("without an index, says that an earlier attempt of the unit is missing", async () => {
    const { folder, first } = await stoppedStation();
    rmSync(first);
    loseIndex(folder);
    const { status, stderr } = find("A1", "--records", folder);
    expect(status).toBe(1);
    expect(stderr).toContain("attempt 1 is not there, though attempt 2 is");
  });

  test.each([
    ["with its index", true],
    ["without an index", false],
  ])("accuses a copy under the next number, and not the record it was made of, %s", async (_, isIndexed) => {
    const { folder, last } = await stoppedStation();
    const copy = last.replace("00000004", "00000005");
    copyFileSync(last, copy);
    if (!isIndexed) loseIndex(folder);
    const { status, stdout, stderr } = find("C3", "--records", folder, "--json");
    expect(attemptsIn(stdout)).toMatchObject([
      { path: last, problem: null },
      { path: copy, problem: expect.stringContaining("it is record number 4") },
    ]);
    expect([status, stderr.trim().split("\n").length]).toEqual([1, 1]);
  });

  it("does not believe a forged next record against one that the index has, and accuses the forged one", async () => {
    const { folder, last } = await stoppedStation();
    const forged = last.replace("00000004-C3-1", "00000005-C3-2");
    const text = readFileSync(last, "utf8");
    writeFileSync(forged, text.replace('"sequence":4', '"sequence":5').replace('"number":1}', '"number":2}'));
    const { stdout } = find("C3", "--records", folder, "--json");
    expect(attemptsIn(stdout)).toMatchObject([
      { path: last, problem: null },
      { path: forged, problem: expect.stringContaining("does not carry the hash of") },
    ]);
  });

  describe.each([
    ["with its index", true],
    ["without an index", false],
  ])("%s", (_, isIndexed) => {
    test.each([
      ["an inspector", '"inspector":"Ines"', '"inspector":"Otto"'],
      ["the hash it carries", /"previous":"[0-9a-f]{8}/, '"previous":"00000000'],
    ])(
      "accuses the record in which somebody changed %s, and neither of its neighbours",
      async (_what, from, to) => {
        const { folder, first, second, third, name } = await stoppedStation();
        writeFileSync(second, readFileSync(second, "utf8").replace(from, to));
        if (!isIndexed) loseIndex(folder);
        const { stdout } = find("A1", "--records", folder, "--json");
        expect(attemptsIn(stdout)).toMatchObject([
          { path: first, problem: null },
          { path: third, problem: null },
        ]);
        const [changed] = attemptsIn(find("B2", "--records", folder, "--json").stdout);
        const evidence = isIndexed ? "the recorded one" : `the one that ${name(third)} carries`;
        expect(changed?.problem).toBe(`it was changed after it was recorded: its SHA-256 is not ${evidence}`);
      },
    );
  });

  it("names a record that was changed together with the index, by the hash the next one carries", async () => {
    const { folder, first, second, name } = await stoppedStation();
    const text = readFileSync(first, "utf8").replace('"inspector":"Ines"', '"inspector":"Otto"');
    writeFileSync(first, text);
    const index = new Database(join(folder, ".index.db"));
    index.prepare("UPDATE attempts SET sha256 = ? WHERE sequence = 1").run(sha256Hex(text));
    index.close();
    const { stderr } = find("A1", "--records", folder);
    expect(stderr).toContain(
      `${first} is not as it was recorded: it was changed after it was recorded: its SHA-256 is not the one that ${name(second)} carries`,
    );
  });

  it("without an index, takes neither of two records with the same number for the true one", async () => {
    const { folder, last, name } = await stoppedStation();
    const twin = last.replace("-C3-1", "-C3-2");
    writeFileSync(twin, readFileSync(last, "utf8").replace('"number":1}', '"number":2}'));
    expect(attemptsIn(find("C3", "--records", folder, "--json").stdout)).toMatchObject([
      { path: last, problem: null },
      { path: twin, problem: expect.stringContaining(`was recorded as ${name(last)}`) },
    ]);
    loseIndex(folder);
    expect(attemptsIn(find("C3", "--records", folder, "--json").stdout)).toMatchObject([
      { path: last, problem: expect.stringContaining(`the same number as ${name(twin)}`) },
      { path: twin, problem: expect.stringContaining(`the same number as ${name(last)}`) },
    ]);
  });

  it("leaves the folder as it is, also one without an index", async () => {
    const { folder } = await stoppedStation();
    // As the station's process leaves it when it ends: one file, nothing beside it.
    const index = new Database(join(folder, ".index.db"));
    index.exec("PRAGMA wal_checkpoint(TRUNCATE)");
    index.close();
    for (const end of ["-wal", "-shm"]) rmSync(join(folder, `.index.db${end}`), { force: true });
    const names = () => readdirSync(folder).sort();
    const before = names();
    expect(find("A1", "--records", folder).status).toBe(0);
    expect(names()).toEqual(before);
    loseIndex(folder);
    expect(find("A1", "--records", folder)).toMatchObject({ status: 0, stderr: "" });
    expect(names()).toEqual(before.filter((name) => !name.startsWith(".index.db")));
  });

  test.each([
    ["is no database", "rubbish ".repeat(2000)],
    ["is empty", ""],
  ])("does without an index that %s", async (_, content) => {
    const { folder } = await stoppedStation();
    loseIndex(folder);
    writeFileSync(join(folder, ".index.db"), content);
    expect(find("A1", "--records", folder)).toMatchObject({ status: 0, stderr: "" });
    expect(readFileSync(join(folder, ".index.db"), "utf8")).toBe(content);
  });
});
