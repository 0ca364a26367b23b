import { existsSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it, onTestFinished, test } from "vitest";
import { measuredText } from "../../station/records/attempt-text.ts";
import { readError } from "../../station/records/record-error.ts";
import { RecordStore } from "../../station/records/store.ts";
import { airflow, facts, outcome, SUSPECTS, stoppedClock } from "./example-attempt.ts";
import { find, reasons, runningStation } from "./find-on-records.ts";
import { check, decision, test as tested } from "./held-units.ts";
import { scratchFolder } from "./scratch-folder.ts";

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
      other_holds: 0,
    });
    await store.dispose(decision("hold", first));
    expect(line()).toMatch(/ doubtful, and 1 more hold keeps it\. Do not ship it/);
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

  it("offers the serials that differ in nothing but capital and small letters", async () => {
    const { folder, store } = await runningStation();
    for (const serial of ["b/2", "B/2", "B_2"]) await tested(store, serial, "pass");
    const { status, stderr } = find("a1", "--records", folder);
    expect(status).toBe(1);
    expect(stderr).toBe(
      `No attempt of a1 is recorded in ${folder}: there is A1; capital and small letters are told apart.\n`,
    );
    // Of one file name, and another serial.
    expect(find("b_2", "--records", folder).stderr).toContain("there is B_2;");
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
