import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { unitState } from "../../station/records/unit-state.ts";
import { facts } from "../records/example-attempt.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { commandInProcess } from "./command-in-process.ts";
import { BY_BADGE, FAIL, Folder, stationWithPeople, VOID } from "./running-folder.ts";

const LOT = ["--reason", "gaskets of G2411 are too hard"];
const OK = ["--reason", "lot G2411 measured, within its drawing", "--as", "B. Imani"];

async function stateOf(folder: Folder, serial: string): Promise<string> {
  const attempts = await folder.store.history(serial);
  const dispositions = await folder.store.dispositionsOf(serial);
  return unitState({ serial, attempts, dispositions }).state;
}

describe("a unit that somebody holds", { timeout: 60_000 }, () => {
  it("stays on hold whatever is measured, is refused by the station, and is good again once it is released", async () => {
    const folder = await Folder.running();
    await folder.tested("POD000001", 1);
    // Under test when it is stopped: the test ends as it ends.
    const begun = await folder.store.begin(facts("POD000001", 2, { model: "POD-4" }));
    const hold = ["hold", "POD000001", "--reason", "dented at the latch", "--as", "A. Marsh"];
    const held = await folder.start(hold);
    expect(held).toEqual({
      code: 0,
      stdout:
        "POD000001: on hold, do not ship\nHold number 1, 1 unit: lifted by drumtight release --hold 1\n",
      stderr: "",
    });
    await folder.ended(begun);
    expect(await stateOf(folder, "POD000001")).toBe("held");
    const listed = await folder.start(["suspects"]);
    expect(listed).toMatchObject({ code: 1, stderr: "" });
    expect(listed.stdout).toMatch(/^1 unit is on hold by somebody's decision and is not sent on:/);
    expect(listed.stdout).toMatch(
      /Held [0-9-]{10} [0-9:]{8} [+-][0-9:]{5} by A\. Marsh, hold 1: dented at the latch\n {2}POD000001\n/,
    );
    const released = await folder.start(["release", "POD000001", ...OK]);
    expect(released).toEqual({ code: 0, stdout: "POD000001: released, counts as pass\n", stderr: "" });
    expect(await stateOf(folder, "POD000001")).toBe("good");
    expect(await folder.run(["suspects"])).toMatchObject({ code: 0 });
  });

  it("is offered by its own serial to whoever types that in small letters", async () => {
    const folder = await Folder.running();
    await folder.tested("POD000001", 1);
    for (const command of [
      ["hold", "pod000001", ...LOT],
      ["scrap", "pod000001", ...OK],
      ["release", "pod000001", ...OK],
      ["rework", "pod000001", "--cause", "gasket", "--action", "new gasket"],
    ]) {
      expect(await folder.run(command)).toMatchObject({
        code: 1,
        stderr: expect.stringMatching(/^No attempt of pod000001 .*: there is POD000001; capital/),
      });
    }
    expect(await folder.kinds("POD000001")).toEqual([]);
  });

  it("is held for each reason by itself: a release says which it lifts", async () => {
    const folder = await Folder.running();
    await folder.tested("POD000001", 1);
    await folder.tested("POD000002", 1);
    await folder.run(["hold", "POD000001", "POD000002", ...LOT]);
    await folder.run(["hold", "POD000001", "--reason", "dented", "--as", "A. Marsh"]);
    const again = await folder.run(["hold", "POD000001", "POD000002", ...LOT]);
    expect(again).toMatchObject({ code: 0, stdout: expect.stringMatching(/^Nothing was recorded/) });
    expect(await folder.run(["release", "POD000001", ...OK])).toMatchObject({
      code: 1,
      stderr: expect.stringMatching(
        /held for 2 reasons \(1, somebody's: gaskets.*; 2, A\. Marsh's: dented\): lift one with --hold/,
      ),
    });
    expect((await folder.run(["release", "--hold", "1", ...OK])).stdout).toBe(
      "POD000001: this hold is lifted, and it is still on hold: dented\nPOD000002: released, counts as pass\n",
    );
    expect(await stateOf(folder, "POD000001")).toBe("held");
    expect(await folder.run(["release", "--hold", "1", ...OK])).toMatchObject({
      code: 1,
      stderr: "No unit is held by number 1. Nothing was recorded.\n",
    });
    expect((await folder.run(["release", "POD000001", ...OK])).code).toBe(0);
    expect(await folder.kinds("POD000001")).toEqual(["hold", "hold", "accept", "accept"]);
  });

  it("stays held when all units in doubt are released, and in doubt when only its hold is lifted", async () => {
    const folder = await Folder.running();
    await folder.tested("POD000001", 1);
    await folder.tested("POD000002", 1);
    await folder.run(["hold", "POD000001", "POD000002", ...LOT]);
    await folder.checked(1, 61.4);
    expect((await folder.run(["suspects"])).stdout).toMatch(
      /^2 units are in doubt[\s\S]*\n\n2 units are on hold by somebody's decision/,
    );
    expect((await folder.run(["release", "POD000001", ...OK])).stderr).toMatch(/held for 2 reasons/);
    expect((await folder.run(["release", "POD000002", "--hold", "1", ...OK])).stdout).toMatch(
      /still in doubt: Reference piece/,
    );
    expect((await folder.run(["release", "--all", ...OK])).stdout).toBe(
      "POD000001: this hold is lifted, and it is still on hold: gaskets of G2411 are too hard\nPOD000002: released, counts as pass\n",
    );
    expect((await folder.run(["release", "POD000001", "--every-hold", ...OK])).code).toBe(0);
    expect(await stateOf(folder, "POD000001")).toBe("good");
  });

  it("may be reworked, though it passed, and is good only after its test", async () => {
    const folder = await Folder.running();
    await folder.tested("POD000001", 1);
    await folder.run(["hold", "POD000001", ...LOT]);
    const reworked = await folder.run([
      "rework",
      "POD000001",
      "--cause",
      "hard gasket",
      "--action",
      "new one",
    ]);
    expect(reworked.stdout).toMatch(/It is still on hold: once a supervisor has released it/);
    expect((await folder.run(["release", "POD000001", ...OK])).stdout).toBe(
      "POD000001: released, and to be tested after its rework\n",
    );
    expect(await stateOf(folder, "POD000001")).toBe("reworked");
    await folder.tested("POD000001", 2);
    expect(await stateOf(folder, "POD000001")).toBe("good");
  });
});

describe("drumtight hold", { timeout: 60_000 }, () => {
  it("stops a whole lot by its part, on all its units, and those alone", async () => {
    const folder = await Folder.running();
    const parts = (lot: string) => ({ parts: { gasket_lot: lot, tub_cavity: "T2" } });
    await folder.tested("POD000001", 1, {}, parts("G2411"));
    await folder.tested("POD000002", 1, {}, parts("G2412"));
    await folder.tested("POD000003", 1, FAIL, parts("G2411"));
    await folder.tested("POD000003", 2, {}, parts("G2412"));
    await folder.tested("POD000004", 1, {}, { ...parts("G2411"), draft: true });
    await folder.tested("POD000005", 1, FAIL, parts("G2411"));
    await folder.run(["hold", "POD000005", "--reason", "cracked"]);
    await folder.run(["scrap", "POD000005", "--reason", "cracked", "--as", "B. Imani"]);
    await folder.store.begin(facts("POD000006", 1, { model: "POD-4", ...parts("G2411") }));
    const held = await folder.run(["hold", "--part", "gasket_lot=G2411", "--model", "POD-4", ...LOT]);
    expect(held.stdout).toBe(
      "POD000001: on hold, do not ship\nPOD000003: on hold, do not ship\nHold number 3, 2 units: lifted by drumtight release --hold 3\n",
    );
    expect(held.stderr).toMatch(/POD000005: was scrapped already/);
    expect(held.stderr).toMatch(/POD000006 is being tested: if it has this part, hold it once/);
    expect(held.code).toBe(0);
    const none = await folder.run(["hold", "--part", "gasket_lot=G9", "--model", "POD-4", ...LOT]);
    expect(none).toMatchObject({
      code: 2,
      stderr: expect.stringMatching(
        /No unit of "POD-4" with gasket_lot=G9.*Tracked are gasket_lot, tub_cavity/,
      ),
    });
  });

  it("takes a list of serials, tells all that speaks against it, and holds all of it or nothing", async () => {
    const folder = await Folder.running();
    for (const serial of ["POD000001", "POD000002"]) await folder.tested(serial, 1);
    await folder.checked(1, 50);
    const list = join(scratchFolder(), "lot.txt");
    writeFileSync(
      list,
      "# from the store\r\nPOD000001\r\n\r\nPOD000009\nREF-LEAK-POD-4\nPOD000002\nPOD000001\n",
    );
    const refused = await folder.run(["hold", "--from-file", list, ...LOT]);
    expect(refused).toMatchObject({ code: 1, stdout: "" });
    expect(refused.stderr).toMatch(
      /^No attempt of POD000009 is recorded in .*\nREF-LEAK-POD-4 is a reference piece.* Nothing was recorded\.\n$/,
    );
    expect(await folder.kinds("POD000001")).toEqual([]);
    writeFileSync(list, "POD000001\nPOD000002\nPOD000001\n");
    const held = await folder.run(["hold", "--from-file", list, ...LOT, "--json"]);
    expect(JSON.parse(held.stdout)).toMatchObject({
      kind: "hold",
      reason: { code: "ON_HOLD", sentence: "gaskets of G2411 are too hard" },
      units: [{ serial: "POD000001" }, { serial: "POD000002" }],
    });
    expect(held.stderr).toBe("Named more than once, and taken once: POD000001.\n");
  });

  it("is anybody's, who proves who they are where people sign in; a release is a supervisor's", async () => {
    const folder = await Folder.running();
    await folder.tested("POD000001", 1, {}, { who: BY_BADGE });
    const hold = ["hold", "POD000001", ...LOT];
    expect(await folder.run([...hold, "--as", "A. Marsh"])).toMatchObject({
      code: 2,
      stderr: expect.stringMatching(/tested where people sign in: say who you are, with --station/),
    });
    const station = await stationWithPeople(folder.path);
    const pin = { DRUMTIGHT_PIN: "4862" };
    const as = ["--as", "A. Marsh", "--station", station];
    expect((await folder.run([...hold, ...as], pin)).code).toBe(0);
    const mine = ["--reason", "it was nothing", ...as];
    expect(await folder.run(["release", "POD000001", ...mine], pin)).toMatchObject({
      code: 2,
      stderr: expect.stringMatching(/A\. Marsh is an inspector: ask a supervisor/),
    });
    expect(await folder.run(["scrap", "POD000001", ...mine], pin)).toMatchObject({
      code: 2,
      stderr: expect.stringMatching(/A\. Marsh is an inspector: ask a supervisor/),
    });
    expect(await folder.kinds("POD000001")).toEqual(["hold"]);
  });

  it("loses nothing where several people stop units at once, and gives each hold a number of its own", async () => {
    const folder = await Folder.running();
    for (let at = 1; at <= 3; at++) await folder.tested(`POD00000${at}`, 1);
    const all = await Promise.all(
      [1, 2, 3].map((at) => folder.start(["hold", "POD000001", `POD00000${at}`, "--reason", `reason ${at}`])),
    );
    expect(all.map(({ code }) => code)).toEqual([0, 0, 0]);
    expect(all.map(({ stdout }) => /number (\d)/.exec(stdout)?.[1]).sort()).toEqual(["1", "2", "3"]);
    expect(await folder.kinds("POD000001")).toEqual(["hold", "hold", "hold"]);
    expect(await folder.kinds("POD000003")).toEqual(["hold"]);
  });

  it.each([
    [["hold", ...LOT], /Say which units: serials, or --from-file, or --part/],
    [["hold", "POD000001", "--reason", " "], /--reason: expected 1 to 400 characters/],
    [["hold", "--part", "gasket_lot=G2411", ...LOT], /--part needs --model/],
    [["hold", "--part", "G2411", "--model", "POD-4", ...LOT], /expected NAME=VALUE like gasket_lot=G2411/],
    [["hold", "--from-file", "nowhere.txt", ...LOT], /nowhere\.txt can't be read/],
    [["hold", "POD000001", ...LOT], /There is no records folder/],
    [["release", "--hold", "x", ...OK], /--hold: expected the number/],
    [["release", "--hold", "1", "--every-hold", ...OK], /--hold NUMBER, or --every-hold/],
  ])("%j is refused in a sentence", async (args, words) => {
    const { code, stdout, stderr } = await commandInProcess([
      ...args,
      "--records",
      join(scratchFolder(), "gone"),
    ]);
    expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
    expect(stderr).toMatch(words);
  });
});

describe("drumtight scrap", { timeout: 60_000 }, () => {
  it("ends a failed unit for good, and a passed one only once it is on hold", async () => {
    const folder = await Folder.running();
    await folder.tested("POD000001", 1);
    await folder.tested("POD000002", 1, FAIL);
    await folder.tested("POD000003", 1, VOID);
    const scrap = (...serials: string[]) =>
      folder.run(["scrap", ...serials, "--reason", "cracked", "--as", "B. Imani"]);
    expect(await scrap("POD000001", "POD000002")).toMatchObject({
      code: 1,
      stderr: expect.stringMatching(/POD000001 passed, .*put it on hold first/),
    });
    expect(await folder.kinds("POD000002")).toEqual([]);
    await folder.run(["hold", "POD000001", "--reason", "dropped"]);
    expect(await scrap("POD000001", "POD000002", "POD000003")).toEqual({
      code: 0,
      stdout: "POD000001: scrapped, for good\nPOD000002: scrapped, for good\nPOD000003: scrapped, for good\n",
      stderr: "",
    });
    expect(await scrap("POD000002")).toMatchObject({
      code: 1,
      stderr: "Unit POD000002 was scrapped, which is final: keep it off the line. Nothing was recorded.\n",
    });
    expect((await folder.run(["release", "POD000001", ...OK])).stderr).toMatch(/which is final/);
    expect(await folder.run(["suspects"])).toMatchObject({ code: 0 });
    expect(await stateOf(folder, "POD000001")).toBe("scrapped");
  });

  it.each(["hold", "scrap"])("%s shows an example", async (command) => {
    const { code, stdout } = await commandInProcess([command, "--help"]);
    expect(code).toBe(0);
    expect(stdout).toMatch(new RegExp(`Example:\\n {2}\\$ drumtight ${command} `));
  });
});
