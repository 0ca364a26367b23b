import { spawnSync } from "node:child_process";
import {
  copyFileSync,
  existsSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import Database from "libsql";
import { describe, expect, it, onTestFinished, test } from "vitest";
import { measuredText } from "../../station/records/attempt-text.ts";
import { sha256Hex } from "../../station/records/chain.ts";
import { readError } from "../../station/records/record-error.ts";
import { RecordStore } from "../../station/records/store.ts";
import { airflow, facts, outcome, SUSPECTS, stoppedClock } from "./example-attempt.ts";
import { check, decision, test as tested } from "./held-units.ts";
import { scratchFolder } from "./scratch-folder.ts";

const FIND = fileURLToPath(new URL("find-child.mjs", import.meta.url));
const BUILT = fileURLToPath(new URL("../../dist/station/commands/find.js", import.meta.url));
const reasons = [{ code: "OUT_OF_LIMITS", sentence: "The leak rate is above its limit." }];

/** A station that is running, with a fail and a pass of A1 on its records. */
async function runningStation() {
  const folder = scratchFolder();
  const { store } = await RecordStore.open({ folder, clock: stoppedClock(), station: "line 1" });
  onTestFinished(() => store.close());
  const [leak] = outcome().characteristics;
  if (!leak) throw new Error("the example has a characteristic");
  const failed = { ...leak, value: 81.2345, verdict: "fail" as const, conformance: 0 };
  const a = await store.commit(
    await store.begin(facts("A1")),
    outcome({ verdict: "fail", reasons, characteristics: [failed] }),
  );
  const b = await store.commit(await store.begin(facts("A1", 2)), outcome());
  return { folder, store, paths: [a.path, b.path] as const };
}

function find(...args: string[]) {
  if (!existsSync(BUILT)) throw new Error("This test runs the built program: npm run build first.");
  const env = { ...process.env, TZ: "Asia/Tokyo" };
  const { status, stdout, stderr } = spawnSync(process.execPath, [FIND, ...args], { encoding: "utf8", env });
  return { status, stdout, stderr };
}

describe("drumtight find", () => {
  it("says nothing good of a unit that a failed check has put in doubt while its hold is not written yet", async () => {
    const { folder, store } = await runningStation();
    await check(store, "pass");
    await tested(store, "A2");
    expect(find("A2", "--records", folder).stdout).toMatch(/^A2\n {2}SIMULATED PASSED/);
    await check(store, "fail");
    expect(find("A2", "--records", folder).stdout).toMatch(
      /^A2\n {2}SIMULATED IN DOUBT since .*, because: Reference piece REF-LEAK-1 failed its check after that test, and the station has not put the unit on hold yet/,
    );
    expect(find("A1", "--records", folder).stdout).toMatch(/^A1\n {2}SIMULATED PASSED/);
    await store.ensureHolds();
    expect(find("A2", "--records", folder).stdout).toMatch(/^A2\n {2}SIMULATED IN DOUBT since/);
    // What speaks for the piece again does not speak for what was tested before.
    await check(store, "pass");
    expect(find("A2", "--records", folder).stdout).toMatch(/^A2\n {2}SIMULATED IN DOUBT since/);
  });

  it("prints a unit's attempts while the station is running, times local, values with uncertainty and limit", async () => {
    const { folder, store, paths } = await runningStation();
    await store.begin(facts("A1", 3));
    const { status, stdout, stderr } = find("A1", "--records", folder);
    expect(stdout.split("\n")).toEqual([
      "A1",
      "  SIMULATED IN DOUBT, because: a test of it has begun and is not recorded yet. Do not ship it before it is tested again or released.",
      "  attempt 1 (first)  2026-01-05 15:00:00 by Ines  demo-body  FAIL",
      "    OUT_OF_LIMITS: The leak rate is above its limit.",
      "    room: 21.2 °C, 1009.5 hPa, humidity 42 %",
      "    leak rate: 81.2 ± 1.2 mL/min, at most 60 mL/min: fail",
      "    station: line 1, SIMULATED; limits: demo-body revision 3, approved by Quentin",
      "    parts: tub_cavity 3",
      "    gauges: leak gauge (DEMO,1, calibration due 2026-06-30)",
      "    reference check: 2026-01-05 14:30:00, traveller bbbbbbbbbbbb..., not found by the index",
      `    ${paths[0]}`,
      "  attempt 2 (retest)  2026-01-05 15:00:00 by Ines  demo-body  PASS",
      "    room: 21.2 °C, 1009.5 hPa, humidity 42 %",
      "    leak rate: 22.4 ± 1.2 mL/min, at most 60 mL/min: pass",
      "    station: line 1, SIMULATED; limits: demo-body revision 3, approved by Quentin",
      "    parts: tub_cavity 3",
      "    gauges: leak gauge (DEMO,1, calibration due 2026-06-30)",
      "    reference check: 2026-01-05 14:30:00, traveller bbbbbbbbbbbb..., not found by the index",
      `    ${paths[1]}`,
      "  attempt 3 (retest)  2026-01-05 15:00:00  under test, or interrupted: no traveller yet",
      "Times are local: UTC+09:00 at the newest test.",
      "",
    ]);
    expect([status, stderr]).toEqual([0, ""]);
  });

  it("gives the whole travellers as JSON", async () => {
    const { folder, paths } = await runningStation();
    const { status, stdout } = find("A1", "--records", folder, "--json");
    expect(status).toBe(0);
    expect(JSON.parse(stdout)).toMatchObject({
      serial: "A1",
      attempts: [
        { path: paths[0], problem: null, traveller: { verdict: "fail" } },
        { path: paths[1], problem: null, traveller: JSON.parse(readFileSync(paths[1], "utf8")) },
      ],
      open: [],
    });
  });

  it("gives airflow results and suspects as they stand in the traveller", async () => {
    const { folder, store } = await runningStation();
    const found = { airflow: [airflow()], suspects: SUSPECTS };
    await store.commit(await store.begin(facts("C1")), outcome({ verdict: "fail", reasons, ...found }));
    const { attempts } = JSON.parse(find("C1", "--records", folder, "--json").stdout);
    expect(attempts[0].traveller).toMatchObject(found);
    const { stdout } = find("C1", "--records", folder);
    expect(stdout).toContain("suspect 1: blocked path.");
    expect(stdout).toContain("largest suction power 482.3 ± 6.8 W at 33.4 L/s");
  });

  it("tells a unit's story in order: holds, releases and reworks between its tests, and why it was tested again", async () => {
    const folder = scratchFolder();
    const clock = stoppedClock();
    const { store } = await RecordStore.open({ folder, clock, station: "line 1" });
    onTestFinished(() => store.close());
    const at = (time: string) => {
      clock.wall = `2026-01-05T${time}:00.000Z`;
      return { started_at: clock.wall };
    };
    const first = await tested(store, "A1", "pass", at("06:00"));
    await tested(store, "B2", "pass", at("06:01"));
    at("06:30");
    await check(store, "fail");
    const [held] = await store.ensureHolds();
    at("06:40");
    const released = await store.dispose(decision("accept", first));
    at("06:50");
    const rework = await store.dispose(decision("rework", first));
    await tested(store, "A1", "fail", { ...at("07:00"), retest_reason: "hose seated anew" });
    at("07:10");
    await check(store, "fail");
    const [again] = await store.ensureHolds();
    const { status, stdout, stderr } = find("A1", "--records", folder);
    const told = stdout
      .split("\n")
      .filter(
        (line) => !/(room|leak rate|station|parts|gauges|reference check):|GROSS_LEAK|\.json$/.test(line),
      )
      .map((line) => line.replace(/ failed its check.*/, ""));
    expect(told).toEqual([
      "A1",
      "  SIMULATED IN DOUBT since 2026-01-05 16:10:00, because: Reference piece REF-LEAK-1",
      "  attempt 1 (first)  2026-01-05 15:00:00 by Ines  demo-body  PASS",
      "  put on hold (hold 1) after attempt 1  2026-01-05 15:30:00 by the station, with 1 other unit",
      "    REFERENCE_FAILED: Reference piece REF-LEAK-1",
      "  released after attempt 1  2026-01-05 15:40:00 by S. Ode",
      "    DECIDED: The gasket's lot is doubtful.",
      "  reworked after attempt 1  2026-01-05 15:50:00 by S. Ode",
      "    cause: gasket pinched",
      "    done: new gasket",
      "  attempt 2 (retest)  2026-01-05 16:00:00 by Ines  demo-body  FAIL",
      "    tested again because: hose seated anew",
      "  put on hold (hold 4) after attempt 2  2026-01-05 16:10:00 by the station, with 1 other unit",
      "    REFERENCE_FAILED: Reference piece REF-LEAK-1",
      "Times are local: UTC+09:00 at the newest test.",
      "",
    ]);
    expect([status, stderr]).toEqual([0, ""]);
    const { dispositions } = JSON.parse(find("A1", "--records", folder, "--json").stdout);
    expect(dispositions).toEqual([held, released, rework, again]);
  });

  it("shows a unit's tests, and says so, with 1, where what was decided about it was changed", async () => {
    const { folder, store } = await runningStation();
    const other = await tested(store, "B2");
    await store.dispose(decision("hold", other));
    const path = join(folder, "dispositions", "00000001.json");
    writeFileSync(path, readFileSync(path, "utf8").slice(0, -1));
    const { status, stdout, stderr } = find("A1", "--records", folder);
    expect(status).toBe(1);
    expect(stdout).toContain("attempt 2 (retest)");
    expect(stderr).toBe(
      `The record ${path} is not as it was recorded: it is not readable JSON. Keep the folder as evidence, restore it from a backup or choose another records folder, and tell the quality engineer.\n`,
    );
  });

  it("begins with whether the unit may be shipped: not while somebody holds it, whatever was measured later", async () => {
    const folder = scratchFolder();
    const { store } = await RecordStore.open({ folder, clock: stoppedClock(), station: "line 1" });
    onTestFinished(() => store.close());
    const first = await tested(store, "A1", "pass");
    const line = () => find("A1", "--records", folder).stdout.split("\n")[1];
    expect(line()).toBe(
      "  SIMULATED PASSED 2026-01-05 15:00:21: these records say nothing against shipping it.",
    );
    await store.dispose(decision("hold", first));
    await tested(store, "A1", "pass");
    expect(line()).toBe(
      "  SIMULATED ON HOLD since 2026-01-05 15:00:00 by S. Ode, because: The gasket's lot is doubtful. Do not ship it before a supervisor has released it.",
    );
    const { state, simulated } = JSON.parse(find("A1", "--records", folder, "--json").stdout);
    expect(simulated).toBe(true);
    expect(state).toEqual({
      state: "held",
      since: "2026-01-05T06:00:00.000Z",
      by: "S. Ode",
      reason: "The gasket's lot is doubtful.",
      attempt: 1,
    });
    await store.dispose(decision("scrap", first));
    expect(line()).toMatch(/SCRAPPED .* by S\. Ode, because: .*\. Never ship it\.$/);
  });

  it("does not call a unit passed of which a record, or what was decided, is not as it was recorded", async () => {
    const { folder, store, paths } = await runningStation();
    const state = () => JSON.parse(find("A1", "--records", folder, "--json").stdout).state;
    expect(state().state).toBe("good");
    await store.dispose(decision("hold", await tested(store, "B2")));
    const path = join(folder, "dispositions", "00000001.json");
    const text = readFileSync(path, "utf8");
    writeFileSync(path, text.slice(0, -1));
    expect(state()).toMatchObject({ state: "in_doubt", reason: expect.stringContaining("was decided") });
    writeFileSync(path, text);
    rmSync(paths[0]);
    expect(state()).toMatchObject({ state: "in_doubt", reason: expect.stringContaining("not all of its") });
  });

  it("names the reference check that was in force, and who made it", async () => {
    const folder = scratchFolder();
    const { store } = await RecordStore.open({ folder, clock: stoppedClock(), station: "line 1" });
    onTestFinished(() => store.close());
    const passed = await check(store, "pass");
    const inForce = { at: "2026-01-05T05:30:00.000Z", travellers: [passed.sha256] };
    await tested(store, "A1", "pass", { reference_check: inForce });
    expect(find("A1", "--records", folder).stdout).toContain(
      "    reference check: 2026-01-05 14:30:00, REF-LEAK-1 pass by Ines\n",
    );
    const { reference_checks } = JSON.parse(find("A1", "--records", folder, "--json").stdout);
    expect(reference_checks).toEqual([
      {
        traveller: passed.sha256,
        path: passed.path,
        piece: "REF-LEAK-1",
        by: "Ines",
        ended_at: "2026-01-05T06:00:21.400Z",
        verdict: "pass",
      },
    ]);
    // What is not as it was recorded vouches for nothing.
    writeFileSync(passed.path, readFileSync(passed.path, "utf8").replace("Ines", "Otto"));
    expect(find("A1", "--records", folder).stdout).toContain("not found by the index");
  });

  it("keeps apart two serials that get the same file name", async () => {
    const { folder, store } = await runningStation();
    await store.commit(await store.begin(facts("B/1")), outcome());
    await store.commit(await store.begin(facts("B?1")), outcome());
    const { attempts } = JSON.parse(find("B?1", "--records", folder, "--json").stdout);
    expect(attempts).toMatchObject([{ traveller: { serial: "B?1" } }]);
  });

  it("says so, with 1, when the serial is unknown, and does not take a part of a serial for it", async () => {
    const { folder } = await runningStation();
    for (const serial of ["A", "A1-1", "1", "nobody"]) {
      const { status, stdout, stderr } = find(serial, "--records", folder);
      expect([status, stdout]).toEqual([1, ""]);
      expect(stderr).toMatch(/^No attempt of .* is recorded in .*: check the serial/);
    }
  });

  it("says so, with 2, when there is no such folder, and makes none", () => {
    const folder = join(scratchFolder(), "nowhere");
    const { status, stdout, stderr } = find("A1", "--records", folder);
    expect([status, stdout, stderr]).toEqual([2, "", `There is no records folder ${folder}.\n`]);
    expect(existsSync(folder)).toBe(false);
  });

  test.each([
    ["an earlier one", 0, true],
    ["an earlier one, without an index", 0, false],
    ["the last one", 1, true],
  ])("names a traveller that was changed, with 1: %s", async (_, which, indexed) => {
    const { folder, paths } = await runningStation();
    const path = paths[which as 0 | 1];
    writeFileSync(path, readFileSync(path, "utf8").replace('"inspector":"Ines"', '"inspector":"Otto"'));
    if (!indexed)
      for (const end of ["", "-wal", "-shm"]) rmSync(join(folder, `.index.db${end}`), { force: true });
    const { status, stdout, stderr } = find("A1", "--records", folder);
    expect(status).toBe(1);
    expect(stdout).toContain(`NOT AS RECORDED: ${path}`);
    expect(stderr).toContain(`${path} is not as it was recorded: it was changed after it was recorded`);
    expect(stderr.trim().split("\n")).toHaveLength(1);
  });

  it("names a traveller that can't be read at all, and shows the others", async () => {
    const { folder, paths } = await runningStation();
    writeFileSync(paths[0], "");
    const { status, stdout } = find("A1", "--records", folder);
    expect(status).toBe(1);
    expect(stdout).toContain(`NOT AS RECORDED: ${paths[0]}: it is not readable JSON`);
    expect(stdout).toContain("attempt 2 (retest)");
  });
});

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

it("says so, with 2, when the folder's name is empty", () => {
  expect(find("A1", "--records", "")).toEqual({
    status: 2,
    stdout: "",
    stderr: "The name of the records folder is empty: give a folder.\n",
  });
});

// The tests run as root, whom no permission stops: the system's answer is made here.
test.each(["EACCES", "EPERM"])("a folder that may not be read (%s) asks for read access only", (code) => {
  const denied = Object.assign(new Error(`${code}: permission denied, scandir '/r'`), { code });
  const { message } = readError(denied, "/r", "The records folder /r can't be listed");
  expect(message).toMatch(/^The records folder \/r can't be listed: .* read access/);
  expect(message).not.toContain("write");
});

// JCGM 100:2008 7.2.6: an uncertainty has at most two significant digits, and its value as many decimals.
test.each([
  [12.3456, 0.8321, "12.35 ± 0.83 u"],
  [12.3456, 8.321, "12.3 ± 8.3 u"],
  [1234.56, 83.21, "1235 ± 83 u"],
  [12.3456, 0.0996, "12.35 ± 0.10 u"],
  [12.3456, 0.000123, "12.34560 ± 0.00012 u"],
  [12.3456, 0, "12.3456 ± 0 u"],
  [12.3456, null, "12.3456 u"],
  [-0.04, 1.2, "0.0 ± 1.2 u"],
  [null, null, "no valid value"],
])("a value of %s with an expanded uncertainty of %s is shown as %s", (value, expanded, text) => {
  expect(measuredText(value, expanded, "u")).toBe(text);
});
