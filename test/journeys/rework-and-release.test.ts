import { copyFileSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import type { AttemptFacts } from "../../station/records/traveller.ts";
import { INSPECTOR } from "../people/people-at.ts";
import { facts, outcome } from "../records/example-attempt.ts";
import { scratchDisk, scratchFolder } from "../records/scratch-folder.ts";
import { commandInProcess } from "./command-in-process.ts";
import { BY_BADGE, FAIL, Folder, REFERENCE, stationWithPeople, VOID } from "./running-folder.ts";

const REASON = ["--reason", "the piece was not seated"];
const REWORK = ["--cause", "gasket pinched", "--action", "new gasket"];

describe("drumtight rework", { timeout: 60_000 }, () => {
  it("records cause, action and who, once, while the station runs, which then sees it", async () => {
    const folder = await Folder.running();
    await folder.tested("POD000001", 1, FAIL);
    const done = await folder.start(["rework", "POD000001", ...REWORK, "--as", "A. Marsh", "--json"]);
    expect(done).toMatchObject({ code: 0, stderr: "" });
    expect(JSON.parse(done.stdout)).toMatchObject({
      kind: "rework",
      by: { name: "A. Marsh", sign_in: "stated" },
      units: [{ serial: "POD000001", attempt: 1 }],
      rework: { cause: "gasket pinched", action: "new gasket" },
    });
    expect(await folder.kinds("POD000001")).toEqual(["rework"]);
    expect(await folder.run(["rework", "POD000001", ...REWORK])).toEqual({
      code: 1,
      stdout: "",
      stderr:
        "A rework of POD000001 is recorded already, after attempt 1: test it now. Nothing was recorded.\n",
    });
  });

  it("is refused for what did not fail, in a sentence each", async () => {
    const folder = await Folder.running();
    await folder.tested("POD000001", 1);
    await folder.tested("POD000002", 1, VOID);
    await folder.tested("POD000003", 1, FAIL, { draft: true });
    await folder.checked(1, 50);
    const why = async (serial: string) => {
      const { code, stdout, stderr } = await folder.run(["rework", serial, ...REWORK]);
      expect({ code, stdout }).toEqual({ code: 1, stdout: "" });
      return stderr;
    };
    expect(await why("POD000001")).toMatch(/did not fail, its attempt 1 passed: there is nothing to rework/);
    expect(await why("POD000002")).toMatch(/gave no valid measurement, and did not fail: test it again/);
    expect(await why("POD000003")).toMatch(/on draft limits only/);
    expect(await why(REFERENCE.piece)).toMatch(/is a reference piece/);
    expect(await why("POD999999")).toMatch(/No attempt of POD999999 is recorded .* check the serial/);
    for (const serial of ["POD000001", "POD000002", "POD000003"])
      expect(await folder.kinds(serial)).toEqual([]);
  });

  it("is for a unit whose tests without a valid measurement are used up, by its limit file's rule", async () => {
    const folder = await Folder.running();
    const station = await stationWithPeople(folder.path);
    const rework = ["rework", "POD000002", ...REWORK, "--station", station, "--as", "a. marsh"];
    const pin = { DRUMTIGHT_PIN: INSPECTOR.pin };
    for (let attempt = 1; attempt <= 2; attempt++) {
      await folder.tested("POD000002", attempt, VOID, { attempt: { number: attempt, kind: "first" } });
    }
    expect(await folder.run(rework, pin)).toMatchObject({
      code: 1,
      stderr: expect.stringMatching(/gave no valid measurement/),
    });
    await folder.tested("POD000002", 3, VOID, { attempt: { number: 3, kind: "first" } });
    expect(await folder.run(rework, pin)).toMatchObject({
      code: 0,
      stdout: "POD000002: rework after attempt 3 recorded by A. Marsh. Its next test is the full test.\n",
    });
  });

  it("goes by the rule of the limits in force, whatever a draft beside them says", async () => {
    const folder = await Folder.running();
    const limits = scratchFolder();
    for (const name of ["pod-4.yaml", "pod-4.yaml.approval.json"])
      copyFileSync(join("limits/models", name), join(limits, name));
    const draft = readFileSync("limits/models/pod-4.yaml", "utf8")
      .replace("revision: 4", "revision: 5")
      .replace("after_void: 2", "after_void: 0");
    writeFileSync(join(limits, "draft.yaml"), draft);
    const station = await stationWithPeople(folder.path, "line 1", limits);
    await folder.tested("POD000002", 1, VOID);
    const rework = ["rework", "POD000002", ...REWORK, "--station", station, "--as", "a. marsh"];
    expect(await folder.run(rework, { DRUMTIGHT_PIN: INSPECTOR.pin })).toMatchObject({
      code: 1,
      stderr: expect.stringMatching(/gave no valid measurement, and did not fail: test it again/),
    });
  });

  it("waits for the end of a test that has begun", async () => {
    const folder = await Folder.running();
    await folder.tested("POD000001", 1, FAIL);
    await folder.store.begin(facts("POD000001", 2, { model: "POD-4" }));
    const { code, stderr } = await folder.run(["rework", "POD000001", ...REWORK]);
    expect(code).toBe(1);
    expect(stderr).toMatch(/A test of POD000001 has begun and is not recorded yet: wait for its end/);
    expect(await folder.kinds("POD000001")).toEqual([]);
  });

  it("takes nobody's word where people sign in", async () => {
    const folder = await Folder.running();
    await folder.tested("POD000001", 1, FAIL);
    const rework = ["rework", "POD000001", ...REWORK, "--station", await stationWithPeople(folder.path)];
    for (const [more, pin, words] of [
      [[], {}, /People sign in here: add --as with your name/],
      [["--as", "A. Marsh"], { DRUMTIGHT_PIN: "0000" }, /^Name or PIN is wrong/],
    ] as const) {
      const { code, stderr } = await folder.run([...rework, ...more], pin);
      expect(code).toBe(2);
      expect(stderr).toMatch(words);
    }
    expect(await folder.kinds("POD000001")).toEqual([]);
  });

  it("takes nobody's word for a unit that was tested where people sign in, whatever station file is left out", async () => {
    const folder = await Folder.running();
    await folder.tested("POD000001", 1, FAIL, { who: BY_BADGE });
    const rework = ["rework", "POD000001", ...REWORK, "--as", "A. Marsh"];
    const { code, stderr } = await folder.run(rework);
    expect(code).toBe(2);
    expect(stderr).toMatch(/POD000001 was tested where people sign in: say who you are, with --station FILE/);
    expect(await folder.kinds("POD000001")).toEqual([]);
    const station = await stationWithPeople(folder.path);
    const done = await folder.run([...rework, "--station", station, "--json"], {
      DRUMTIGHT_PIN: INSPECTOR.pin,
    });
    expect(JSON.parse(done.stdout)).toMatchObject({ by: { name: "A. Marsh", sign_in: "pin" } });
  });

  it.each([
    [["--cause", " ", "--action", "new gasket"], /--cause: expected 1 to 400 characters/],
    [["--cause", "gasket", "--action", "x\u0007"], /--action: expected/],
    [["--cause", "gasket"], /--action/],
  ])("wants cause and action: %j", async (args, words) => {
    const { code, stderr } = await commandInProcess([
      "rework",
      "POD000001",
      ...args,
      "--records",
      scratchFolder(),
    ]);
    expect(code).toBe(2);
    expect(stderr).toMatch(words);
  });

  it("records nothing on a full disk, and says so", async () => {
    const disk = scratchDisk(512);
    const folder = await Folder.running(disk);
    await folder.tested("POD000001", 1, FAIL);
    try {
      for (let i = 0; ; i++) writeFileSync(join(disk, `filler-${i}`), Buffer.alloc(4096));
    } catch {
      // Full.
    }
    const { code, stdout, stderr } = await folder.run(["rework", "POD000001", ...REWORK]);
    expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
    expect(stderr).toMatch(/disk is full/i);
    expect(await folder.kinds("POD000001")).toEqual([]);
  });
});

describe("units in doubt after a failed reference check", { timeout: 60_000 }, () => {
  async function afterFailedCheck(who?: AttemptFacts["who"]): Promise<Folder> {
    const folder = await Folder.running();
    const more = who ? { who } : {};
    await folder.tested("POD000001", 1, {}, more);
    await folder.checked(1, 50.2);
    await folder.tested("POD000002", 1, {}, more);
    await folder.tested("POD000003", 1, FAIL, more);
    await folder.checked(2, 61.4);
    return folder;
  }

  it("are listed with what was found and which check failed, until each is released or tested again", async () => {
    const folder = await afterFailedCheck();
    const listed = await folder.run(["suspects"]);
    expect(listed).toMatchObject({ code: 1, stderr: "" });
    expect(listed.stdout).toMatch(/^2 units are in doubt and do not count as passed:/);
    expect(listed.stdout).toMatch(
      /Held 2026-01-05 [0-9:]{8} [+-][0-9:]{5}: Reference piece REF-LEAK-POD-4 failed its check, 61\.40? mL\/min where 50 ± 2/,
    );
    expect(listed.stdout).toMatch(
      /POD000002 {2}POD-4 {2}attempt 1: pass\n {2}POD000003 {2}POD-4 {2}attempt 1: fail\n/,
    );
    expect(listed.stdout).not.toContain("POD000001");

    const released = await folder.start(["release", "POD000002", ...REASON, "--as", "B. Imani"]);
    expect(released).toEqual({ code: 0, stdout: "POD000002: released, counts as pass\n", stderr: "" });
    await folder.tested("POD000003", 2);
    expect(await folder.run(["suspects"])).toEqual({
      code: 0,
      stdout: `No unit is in doubt or on hold in ${folder.path}.\n`,
      stderr: "",
    });
    expect(await folder.kinds("POD000002")).toEqual(["hold", "accept"]);
  });

  it("are listed for programs", async () => {
    const folder = await afterFailedCheck();
    const { code, stdout } = await folder.run(["suspects", "--json"]);
    expect(code).toBe(1);
    expect(JSON.parse(stdout)).toMatchObject({
      records: folder.path,
      units: [
        {
          serial: "POD000002",
          model: "POD-4",
          verdict: "pass",
          attempt: 1,
          holds: [{ by: { sign_in: "station" }, reason: { code: "REFERENCE_FAILED" } }],
        },
        { serial: "POD000003", verdict: "fail" },
      ],
    });
  });

  it("are released all at once, in one record", async () => {
    const folder = await afterFailedCheck();
    const { code, stdout } = await folder.run(["release", "--all", ...REASON, "--as", "B. Imani", "--json"]);
    expect(code).toBe(0);
    expect(JSON.parse(stdout)).toMatchObject({
      kind: "accept",
      reason: { code: "RELEASED", sentence: "the piece was not seated" },
      units: [{ serial: "POD000002" }, { serial: "POD000003" }],
    });
  });

  it("are all kept when one of those to be released is not in doubt", async () => {
    const folder = await afterFailedCheck();
    for (const [serial, words] of [
      ["POD000001", /Unit POD000001 is neither on hold nor in doubt: there is nothing to release/],
      ["POD999999", /No attempt of POD999999 is recorded/],
    ] as const) {
      const { code, stderr } = await folder.run(["release", "POD000002", serial, ...REASON, "--as", "B"]);
      expect(code).toBe(1);
      expect(stderr).toMatch(words);
    }
    expect(await folder.kinds("POD000002")).toEqual(["hold"]);
  });

  it("are released where people sign in by a supervisor with a PIN only, whatever station file is left out", async () => {
    const folder = await afterFailedCheck(BY_BADGE);
    const station = await stationWithPeople(folder.path);
    const release = ["release", "POD000002", ...REASON];
    for (const [more, pin, words] of [
      [["--as", "B. Imani"], {}, /tested where people sign in: a supervisor releases them, with --station/],
      [
        ["--as", "A. Marsh", "--station", station],
        { DRUMTIGHT_PIN: "4862" },
        /A\. Marsh is an inspector: ask a/,
      ],
      [["--as", "B. Imani", "--station", station], { DRUMTIGHT_PIN: "4862" }, /^Name or PIN is wrong/],
    ] as const) {
      const { code, stderr } = await folder.run([...release, ...more], pin);
      expect(code).toBe(2);
      expect(stderr).toMatch(words);
    }
    expect(await folder.kinds("POD000002")).toEqual(["hold"]);
    const done = await folder.run([...release, "--as", "b. imani", "--station", station, "--json"], {
      DRUMTIGHT_PIN: "90517",
    });
    expect(JSON.parse(done.stdout)).toMatchObject({
      by: { name: "B. Imani", sign_in: "pin", role: "supervisor" },
    });
  });

  it("are not released by people who sign in at another station, or with records elsewhere", async () => {
    const folder = await afterFailedCheck(BY_BADGE);
    const release = ["release", "--all", ...REASON, "--as", "B. Imani"];
    for (const [station, words] of [
      [
        await stationWithPeople(folder.path, "line 9"),
        /POD000002 was tested at station "line 1", and .* "line 9"/,
      ],
      [
        await stationWithPeople(scratchFolder()),
        /The records of .* are in .*, not in .*: leave --records out/,
      ],
    ] as const) {
      const { code, stderr } = await folder.run([...release, "--station", station], {
        DRUMTIGHT_PIN: "90517",
      });
      expect(stderr).toMatch(words);
      expect(code).toBe(2);
    }
    expect(await folder.kinds("POD000002")).toEqual(["hold"]);
  });

  it("are not released while one of them is being tested again, and what that test finds stands", async () => {
    const folder = await afterFailedCheck();
    const begun = await folder.store.begin(facts("POD000002", 2, { model: "POD-4" }));
    for (const which of [["--all"], ["POD000002", "POD000003"]]) {
      const { code, stderr } = await folder.run(["release", ...which, ...REASON, "--as", "B. Imani"]);
      expect(code).toBe(1);
      expect(stderr).toMatch(/A test of POD000002 has begun and is not recorded yet: wait for its end/);
    }
    const other = await folder.run(["release", "POD000003", ...REASON, "--as", "B. Imani"]);
    expect(other.stdout).toBe("POD000003: released, counts as fail\n");
    await folder.store.commit(begun, outcome(FAIL));
    expect((await folder.run(["release", "POD000002", ...REASON, "--as", "B. Imani"])).stderr).toMatch(
      /POD000002 is neither on hold nor in doubt/,
    );
    expect(await folder.kinds("POD000002")).toEqual(["hold"]);
  });

  it("are not said to be none where the record that holds them has gone", async () => {
    const folder = await afterFailedCheck();
    rmSync(join(folder.path, "dispositions", "00000001.json"));
    for (const args of [
      ["suspects"],
      ["release", "--all", ...REASON, "--as", "B. Imani"],
      ["rework", "POD000003", ...REWORK],
      ["find", "POD000002"],
    ]) {
      const { code, stderr } = await folder.run(args);
      expect(stderr).toMatch(/00000001\.json is not as it was recorded: .*not there any more/);
      expect(code).toBe(args[0] === "find" ? 1 : 2);
    }
  });

  it.each([
    [["release", ...REASON, "--as", "B"], /Say what is released: serials, or --all, or --hold/],
    [["release", "POD000001", "--all", ...REASON, "--as", "B"], /serials, or --all, or --hold/],
    [["release", "--all", "--reason", "", "--as", "B"], /--reason: expected/],
    [["release", "--all", ...REASON], /--as/],
    [["suspects"], /There is no records folder/],
    [["rework", "POD000001", ...REWORK], /There is no records folder/],
  ])("%j is refused in a sentence", async (args, words) => {
    const { code, stdout, stderr } = await commandInProcess([
      ...args,
      "--records",
      join(scratchFolder(), "gone"),
    ]);
    expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
    expect(stderr).toMatch(words);
  });

  it("are not said to be none in a folder without records", async () => {
    const { code, stdout, stderr } = await commandInProcess(["suspects", "--records", scratchFolder()]);
    expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
    expect(stderr).toMatch(/There are no records in .*give the station's own/);
  });

  it.each(["rework", "suspects", "release"])("%s shows an example", async (command) => {
    const { code, stdout } = await commandInProcess([command, "--help"]);
    expect(code).toBe(0);
    expect(stdout).toMatch(new RegExp(`Example:\\n {2}\\$ drumtight ${command} `));
  });
});
