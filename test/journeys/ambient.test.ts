import { copyFileSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { afterAll, beforeAll, describe, expect, it, onTestFinished, test } from "vitest";
import { referencePieces } from "../../sim/reference-pieces.ts";
import { StationPlant } from "../../sim/station-plant.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { openFixture } from "../../station/instruments.ts";
import { readStationFileAlone } from "../../station/load-station.ts";
import { type EnteredRoom, enteredRoom, saveRoomEntry } from "../../station/room-entry.ts";
import { DecayBench } from "../../station/watch-decay.ts";
import { loadStation } from "../../station/wiring.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { drumtight } from "./command-line.ts";
import { ServedStation, testedValidly } from "./served-station.ts";
import { SimulatedShift } from "./simulated-shift.ts";

const SERIAL = "POD361707"; // the first unit of seed 6, a good one

const values = ["--temperature", "21.4 degC", "--pressure", "1009 hPa", "--humidity", "45 %"];

/** A station file whose room is read by people. */
function withoutInstrument(text: string, validFor = "4 h"): string {
  const entered = `ambient: { entered: { valid_for: ${validFor}, temperature_uncertainty: 1 K, pressure_uncertainty: 100 Pa, humidity_uncertainty: 5 % } }`;
  const changed = text
    .replace("ambient: instrument", entered)
    .replace(/\n {2}ambient:\n[\s\S]*?(?=\n\nio_block)/, "");
  expect(changed).not.toContain("scpi-ambient");
  return changed;
}

describe("a station whose room is entered, on the command line", { timeout: 300_000 }, () => {
  let served: ServedStation;
  beforeAll(async () => {
    served = new ServedStation("tcp", ["--seed", "6", "--count", "5", "--hands"]);
    await served.ready();
    writeFileSync(served.stationFile, withoutInstrument(readFileSync(served.stationFile, "utf8")));
    await served.mount(SERIAL);
  });
  afterAll(() => served.close());

  const ambient = (...args: string[]) => drumtight(["ambient", "--station", served.stationFile, ...args]);

  it("refuses units until somebody has entered it, and tests them then without a restart", async () => {
    expect(await ambient("--json")).toMatchObject({
      code: 1,
      stdout: '{"station":"Demo station 1","state":"none"}\n',
      stderr: expect.stringMatching(/thermometer, barometer and hygrometer/),
    });
    const run = served.run([]);
    run.type(SERIAL);
    const refused = await run.waitFor((event) => event.event === "refused");
    expect(refused).toMatchObject({ serial: SERIAL, reasons: [{ code: "AMBIENT_DUE" }] });
    expect(JSON.stringify(refused)).toContain(`drumtight ambient --station ${served.stationFile}`);

    const entered = await ambient(...values, "--as", "A. Marsh");
    expect(entered).toMatchObject({ code: 0, stderr: "" });
    expect(entered.stdout).toMatch(
      /21\.4 degC, 1009 hPa, 45 %\n {2}entered by A\. Marsh at .*\n.*3 h 59 min/,
    );

    const tested = await testedValidly(run, SERIAL, 1);
    run.child.stdin?.end();
    expect(tested).toMatchObject({ serial: SERIAL, verdict: "pass" });
    const { ambient: room } = JSON.parse(readFileSync(String(tested.traveller), "utf8"));
    expect(room.temperature_K).toBeCloseTo(294.55, 9);
    expect(room.pressure_Pa).toBeCloseTo(100_900, 6);
    expect(room.relative_humidity).toBeCloseTo(0.45, 9);
    expect(room.entered).toMatchObject({ by: "A. Marsh" });
    // One scan was refused.
    expect((await run.ended).code).toBe(1);
  });
});

describe("drumtight ambient", () => {
  const HOUR_ms = 3_600_000;

  /** A station file of its own, with what was entered so long ago. */
  async function enteredAgo(ms: number): Promise<EnteredRoom["source"]> {
    const stationPath = join(scratchFolder(), "line-2.yaml");
    writeFileSync(stationPath, withoutInstrument(readFileSync("sim/demo-station.yaml", "utf8")));
    const room = enteredRoom(readStationFileAlone(stationPath));
    if (!room) throw new Error("The room is not entered.");
    const at = new Date(Date.now() - ms).toISOString();
    const air = { temperature_K: 294.55, pressure_Pa: 100_900, relativeHumidity: 0.45 };
    await saveRoomEntry(room, { ...air, by: "B. Imani", at });
    return room.source;
  }

  it("tells what is entered, by whom, and for how long it still holds", async () => {
    const { stationPath } = await enteredAgo(HOUR_ms);
    const { code, stdout } = await drumtight(["ambient", "--station", stationPath, "--json"]);
    expect(code).toBe(0);
    expect(JSON.parse(stdout)).toMatchObject({
      state: "holds",
      temperature: { value: 21.4, unit: "degC" },
      pressure: { value: 1009, unit: "hPa" },
      humidity: { value: 45, unit: "%" },
      by: "B. Imani",
    });
    const { left_s } = JSON.parse(stdout);
    expect(left_s).toBeLessThanOrEqual(3 * 3600);
    expect(left_s).toBeGreaterThan(3 * 3600 - 120);
  });

  it("tells of the last minute in words", async () => {
    const { stationPath } = await enteredAgo(4 * HOUR_ms - 55_000);
    const { stdout } = await drumtight(["ambient", "--station", stationPath]);
    expect(stdout).toMatch(/^ {2}holds for less than another minute, until \d{4}-/m);
  });

  it.each([
    ["has run out", 5 * HOUR_ms, /as B\. Imani entered it ran out 1 h 0 min ago/],
    ["is dated in the future", -HOUR_ms, /line-2\.ambient\.json was entered at a time still to come/],
  ])("answers with exit code 1 when what is entered %s", async (_, ago_ms, words) => {
    const { stationPath } = await enteredAgo(ago_ms);
    const { code, stdout, stderr } = await drumtight(["ambient", "--station", stationPath]);
    expect({ code, stdout }).toEqual({ code: 1, stdout: "" });
    expect(stderr).toMatch(words);
  });

  it.each([
    [["--temperature", "21.4 degC"], /--pressure, --humidity, --as are missing. Nothing was changed/],
    [values, /--as is missing/],
    [
      ["--temperature", "21.4", ...values.slice(2), "--as", "A. Marsh"],
      /--temperature: .*the unit is missing/,
    ],
    [["--temperature", "214 degC", ...values.slice(2), "--as", "A. Marsh"], /a room's temperature/],
    [[...values.slice(0, 3), "9 kPa", ...values.slice(4), "--as", "A. Marsh"], /--pressure: .*absolute/],
    [[...values.slice(0, 3), "500 hPa", ...values.slice(4), "--as", "A. Marsh"], /600 hPa to 1100 hPa/],
    [[...values.slice(0, 3), "1140 hPa", ...values.slice(4), "--as", "A. Marsh"], /600 hPa to 1100 hPa/],
    [[...values.slice(0, 4), "--humidity", "45", "--as", "A. Marsh"], /--humidity: .*the unit is missing/],
    [[...values.slice(0, 4), "--humidity", "145 %", "--as", "A. Marsh"], /0 to 100 %/],
    [[...values, "--as", " "], /your name/],
  ])("changes nothing when given %j, and says what is wrong", async (args, words) => {
    const { stationPath, path } = await enteredAgo(0);
    const before = readFileSync(path, "utf8");
    const { code, stdout, stderr } = await drumtight(["ambient", "--station", stationPath, ...args]);
    expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
    expect(stderr).toMatch(words);
    expect(stderr.trim().split("\n")).toHaveLength(1);
    expect(readFileSync(path, "utf8")).toBe(before);
  });

  it("says so when a station has an instrument for it", async () => {
    const { code, stderr } = await drumtight([
      "ambient",
      "--station",
      "sim/demo-station.yaml",
      ...values,
      "--as",
      "A",
    ]);
    expect(code).toBe(2);
    expect(stderr).toMatch(/reads the room with an instrument/);
  });
});

/** The demo station's file in a folder of its own, with what was learned of its models. */
function demoStationEntered(validFor: string): string {
  const stationPath = join(scratchFolder(), "demo-station.yaml");
  const text = readFileSync("sim/demo-station.yaml", "utf8").replace(
    "../limits/models",
    resolve("limits/models"),
  );
  writeFileSync(stationPath, withoutInstrument(text, validFor));
  for (const name of readdirSync("sim").filter((file) => file.endsWith(".json"))) {
    copyFileSync(join("sim", name), join(stationPath, "..", name));
  }
  return stationPath;
}

/** Somebody reads the room and enters it. */
function enter(room: EnteredRoom, now_ms: number, temperature_K = 294.15): Promise<void> {
  const air = { temperature_K, pressure_Pa: 100_900, relativeHumidity: 0.45 };
  return saveRoomEntry(room, { ...air, by: "A. Marsh", at: new Date(now_ms).toISOString() });
}

const PIECE = "REF-TIGHT-POD-4";

describe("a shift at a station whose room is entered", () => {
  async function shiftAt(validFor: string): Promise<{ shift: SimulatedShift; room: EnteredRoom }> {
    const stationPath = demoStationEntered(validFor);
    const shift = await SimulatedShift.begin({ stationPath });
    const room = enteredRoom(shift.simulated.file);
    if (!room) throw new Error("The room is not entered.");
    return { shift, room };
  }

  const enterAt = ({ shift, room }: { shift: SimulatedShift; room: EnteredRoom }, temperature_K?: number) =>
    enter(room, shift.simulated.clock.wall_ms(), temperature_K);

  it("begins with the entry, reads it afresh for every body, and stops when it has run out", async () => {
    const it = await shiftAt("5 min");
    const { shift } = it;
    expect((await shift.tryBody(PIECE)).refused).toMatchObject([{ code: "AMBIENT_DUE" }]);
    await enterAt(it);
    expect((await shift.tryBody(PIECE)).traveller).toMatchObject({
      verdict: "pass",
      ambient: { temperature_K: 294.15 },
    });
    await enterAt(it, 295.15);
    expect((await shift.tryBody(PIECE)).traveller).toMatchObject({ ambient: { temperature_K: 295.15 } });
    await shift.pass(300);
    const late = await shift.tryBody(PIECE);
    expect(late.traveller).toBeNull();
    expect(late.refused).toMatchObject([
      { code: "AMBIENT_DUE", sentence: expect.stringMatching(/as A. Marsh entered it ran out .* ago/) },
    ]);
  });

  it("finishes a test in whose course the entry runs out", async () => {
    const it = await shiftAt("5 s");
    await enterAt(it);
    expect((await it.shift.tryBody(PIECE)).traveller).toMatchObject({ verdict: "pass" });
    expect((await it.shift.tryBody(PIECE)).refused).toMatchObject([{ code: "AMBIENT_DUE" }]);
  });

  it("looks again when the test is started, however long ago the body was scanned", async () => {
    const it = await shiftAt("5 min");
    const { station, plant, unitOf } = it.shift.simulated;
    await enterAt(it);
    const refused: unknown[] = [];
    station.listen({ refused: (_, reasons) => refused.push(...reasons) });
    plant.mount(unitOf(PIECE));
    station.scan({ serial: PIECE, parts: {} });
    await it.shift.pass(301);
    expect(station.state()).toBe("armed");
    station.start();
    await it.shift.pass(60);
    expect(refused).toMatchObject([{ code: "AMBIENT_DUE" }]);
    // And already when the next one is scanned.
    station.scan({ serial: PIECE, parts: {} });
    await it.shift.pass(1);
    expect(station.state()).not.toBe("armed");
    expect(refused).toHaveLength(2);
  });

  it("takes a damaged entry for none, and says so", async () => {
    const it = await shiftAt("5 min");
    await enterAt(it);
    writeFileSync(it.room.source.path, readFileSync(it.room.source.path, "utf8").slice(0, 60));
    expect((await it.shift.tryBody(PIECE)).refused).toMatchObject([
      { code: "AMBIENT_DUE", sentence: expect.stringMatching(/^demo-station.ambient.json is broken/) },
    ]);
  });
});

test("a study at a station whose room is entered waits for the entry, too", async () => {
  const loaded = loadStation(demoStationEntered("1 h"), "POD-4", "simulated");
  const [model] = loaded.models;
  const step = model?.limits.steps.find((it) => it.kind === "leak");
  const room = enteredRoom(loaded.file);
  if (!model || step?.kind !== "leak" || !room) throw new Error("There is nothing to study.");
  const clock = new VirtualClock();
  const plant = new StationPlant({ clock, seed: 7, models: [model.limits] });
  const fixture = await openFixture({
    ...loaded,
    clock,
    attach: (name) => {
      const instrument = plant.instruments.get(name);
      return instrument && ((far) => instrument.attach(far));
    },
  });
  const bench = await clock.runUntil(DecayBench.open({ file: loaded.file, fixture, clock }));
  onTestFinished(() => clock.runUntil(bench.close()));
  plant.mount(referencePieces(model.limits).tight.unit);
  const watch = () => clock.runUntil(bench.watch({ limits: model.limits, step, piece: PIECE, watch_s: 5 }));
  expect(await watch()).toMatchObject({ kind: "stopped", reasons: [{ code: "AMBIENT_DUE" }] });
  await enter(room, clock.wall_ms(), 296);
  expect(await watch()).toMatchObject({ kind: "watched", run: { ambient: { temperature_K: 296 } } });
});
