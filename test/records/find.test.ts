import { spawnSync } from "node:child_process";
import { existsSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { describe, expect, it, onTestFinished, test } from "vitest";
import { measuredText } from "../../station/records/attempt-text.ts";
import { RecordStore } from "../../station/records/store.ts";
import { facts, outcome, stoppedClock } from "./example-attempt.ts";
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
  it("prints a unit's attempts while the station is running, times local, values with uncertainty and limit", async () => {
    const { folder, store, paths } = await runningStation();
    await store.begin(facts("A1", 3));
    const { status, stdout, stderr } = find("A1", "--records", folder);
    expect(stdout.split("\n")).toEqual([
      "A1",
      "  attempt 1 (first)  2026-01-05 15:00:00 by Ines  demo-body  FAIL",
      "    OUT_OF_LIMITS: The leak rate is above its limit.",
      "    leak rate: 81.2 ± 1.2 mL/min, at most 60 mL/min: fail",
      `    ${paths[0]}`,
      "  attempt 2 (retest)  2026-01-05 15:00:00 by Ines  demo-body  PASS",
      "    leak rate: 22.4 ± 1.2 mL/min, at most 60 mL/min: pass",
      `    ${paths[1]}`,
      "  attempt 3 (retest)  2026-01-05 15:00:00  under test, or interrupted: no traveller yet",
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
