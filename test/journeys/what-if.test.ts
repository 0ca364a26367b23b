import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import Database from "libsql";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { loadLimitFile } from "../../limits/limit-file.ts";
import type { ModelLimits } from "../../limits/model.ts";
import { withOverrides } from "../../station/limit-overrides.ts";
import { readStationFileAlone } from "../../station/load-station.ts";
import { storedAttempts } from "../../station/records/read-stored-values.ts";
import { replayRecords } from "../../station/replay-records.ts";
import { studyText } from "../../station/study-page/study-text.ts";
import { replayValues, type WhatIfOrder } from "../../station/what-if/replay-values.ts";
import { curvesReport, valuesReport } from "../../station/what-if/what-if-report.ts";
import { yieldChange } from "../../station/what-if/what-if-summary.ts";
import { demoStationPath } from "../../station/wiring.ts";
import { drumtight, type Finished } from "./command-line.ts";

const pod = "limits/models/pod-4.yaml";
const TIGHTER = "6 mL/min @ 20 degC";
const UNITS = 24;
const scratch = mkdtempSync(join(tmpdir(), "drumtight-what-if-"));
const records = join(scratch, "records");
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

const station = readStationFileAlone(demoStationPath());
const own = loadLimitFile(pod);
const tighter = withOverrides(own, { limit: TIGHTER });

function replay(file: string, ...args: string[]): Promise<Finished> {
  return drumtight(["limits", "replay", file, "--records", records, ...args]);
}

function judged(limits: ModelLimits, query: WhatIfOrder["query"] = {}, recordsFolder = records) {
  return replayValues({ limits, recordsFolder, query, shifts: station.shifts, keepAll: false });
}

function head(limits: ModelLimits) {
  return { limits, approvedBy: null, changes: [], recordsFolder: records, stationPath: demoStationPath() };
}

function measured(limits: ModelLimits, progress: (done: number, of: number) => void = () => undefined) {
  return replayRecords({
    limits,
    recordsFolder: records,
    stationPath: demoStationPath(),
    station,
    now_ms: Date.now(),
    query: {},
    withReferences: false,
    keepAll: false,
    progress,
  });
}

/** The compact body's limits with this changed; a draft. */
function changed(name: string, from: RegExp, to: string): string {
  const text = readFileSync(pod, "utf8");
  expect(text).toMatch(from);
  const path = join(scratch, name);
  writeFileSync(path, text.replace(from, to));
  return path;
}

beforeAll(async () => {
  const run = ["run", "--simulate", "--units", String(UNITS), "--model", "POD-4", "--seed", "11"];
  expect((await drumtight([...run, "--records", records])).code).toBe(0);
}, 120_000);

describe("a quality engineer asks what other limits would have said of a recorded shift", () => {
  it("the same limits: every verdict is the recorded one", async () => {
    const report = await judged(own);
    expect(report.source).toEqual({ indexed: report.attempts, records: report.attempts });
    expect(report.references).toBeGreaterThan(0);
    for (const counts of [report.tally.first, report.tally.last]) {
      const it = yieldChange(counts);
      expect(it).toMatchObject({ units: UNITS, passToFail: 0, failToPass: 0, toVoid: 0, notRejudged: {} });
      expect(it.passBoth).toBeGreaterThan(UNITS / 2);
      expect(it.failBoth).toBeGreaterThan(it.keptFail);
    }
    expect(report.tally.changedFirst).toEqual([]);
    expect(report.tally.characteristics).toHaveLength(10);
  });

  it("a lower limit of the leak rate: which units fail, by what value, in which cavity and shift", async () => {
    const { tally } = await judged(tighter);
    const { passFail, failPass, toVoid } = tally.first;
    expect(passFail).toBeGreaterThan(0);
    expect(failPass).toBe(0);
    expect(tally.changedFirst).toHaveLength(passFail + toVoid);
    for (const { from, because } of tally.changedFirst) {
      expect(from).toBe("pass");
      expect(because).toMatch(/^leak rate -?[\d.]+ ± [\d.]+ mL\/min/);
    }
    const sum = (groups: Iterable<{ passFail: number }> = []) =>
      [...groups].reduce((total, it) => total + it.passFail, 0);
    expect(sum(tally.parts().get("tub_cavity")?.values())).toBe(passFail);
    expect(sum(tally.shifts.values())).toBe(passFail);
    expect(tally.parts().get("motor_serial")).toBeNull();
  });

  it("values of early verdicts under a limit that needs more of them are no forecast, and the conclusion says so", async () => {
    const conclude = async (limits: ModelLimits) =>
      valuesReport(head(limits), await judged(limits), false).conclusion;
    expect(await conclude(tighter)).toMatch(
      /But \d+ verdicts? changes? on values of early verdicts, where the station would have measured on: this is no forecast\.$/,
    );
    expect(await conclude(own)).not.toContain("forecast");
  });

  it("a limit of another characteristic is judged too, from a file of its own", async () => {
    const { tally } = await judged(
      loadLimitFile(changed("suction.yaml", /lower: 12\.4 kPa/, "lower: 14.2 kPa")),
    );
    expect(tally.changedFirst.length).toBeGreaterThan(0);
    for (const { because } of tally.changedFirst) expect(because).toMatch(/sealed suction/);
  });

  it("another settling time can't be told from values, and the report says so and passes nobody", async () => {
    const limits = loadLimitFile(changed("settle.yaml", /settle: 0\.3 s/, "settle: 2 s"));
    const report = await judged(limits);
    expect(yieldChange(report.tally.first)).toMatchObject({
      passBoth: 0,
      failToPass: 0,
      before: { good: 0 },
    });
    const study = valuesReport(head(limits), report, false);
    expect(study.notes.join("\n")).toMatch(
      /Not judged again of leak rate: \d+ after another settling time \(--from-curves\)/,
    );
    expect(study.conclusion).toMatch(/more units can't be compared: of all 24 the yield was/);
  });

  it("a new characteristic that was never measured is said, and passes nobody", async () => {
    const limits = {
      ...own,
      characteristics: own.characteristics.map((it) =>
        it.measurand === "leak_rate" ? it : { ...it, step: "airflow at night" },
      ),
    };
    const { tally } = await judged(limits);
    expect(tally.first.passPass + tally.first.failPass).toBe(0);
    expect(tally.first.notRejudged.get("not in the history")).toBeGreaterThan(UNITS / 2);
  });

  it("what had failed by nothing but a removed characteristic passes, and the list says why", async () => {
    const limits = {
      ...own,
      characteristics: own.characteristics.filter((it) => it.measurand === "leak_rate"),
    };
    const { tally } = await judged(limits);
    expect(tally.first.failPass).toBeGreaterThan(0);
    expect(tally.changedFirst.map(({ because }) => because)).toContain(
      "what it had failed by is not judged any more",
    );
  });

  it("without an index the travellers tell the same, and an index that is behind is added to", async () => {
    const copy = join(scratch, "copy");
    cpSync(join(records, "2026"), join(copy, "2026"), { recursive: true });
    const figures = async (folder: string) =>
      valuesReport(head(tighter), await judged(tighter, {}, folder), false).figures;
    const whole = await figures(records);
    expect(await figures(copy)).toEqual({ ...whole, values_from_index: 0 });
    cpSync(join(records, ".index.db"), join(copy, ".index.db"));
    const index = new Database(join(copy, ".index.db"));
    index.exec("DELETE FROM stored_values WHERE sequence > 20; DELETE FROM attempts WHERE sequence > 20");
    index.close();
    expect(await figures(copy)).toEqual({ ...whole, values_from_index: 20 });
  });

  it("no unit is waited for of which nothing more is recorded, with an index or without", async () => {
    const copy = join(scratch, "unindexed");
    cpSync(join(records, "2026"), join(copy, "2026"), { recursive: true });
    const waited = async (folder: string) => {
      const found: string[] = [];
      for await (const it of storedAttempts(folder, { model: "POD-4" })) {
        if (it.kind === "attempt" && it.attempt.goesOn)
          found.push(`${it.attempt.serial} ${it.attempt.attempt}`);
      }
      return found;
    };
    const [indexed, read] = [await waited(records), await waited(copy)];
    expect(read).toEqual(indexed);
    expect(read.length).toBeLessThan(UNITS / 2);
  });

  it("a value changed in the index is found by the audit", async () => {
    const copy = join(scratch, "audited");
    cpSync(records, copy, { recursive: true });
    const index = new Database(join(copy, ".index.db"));
    index.exec("UPDATE stored_values SET numbers = zeroblob(length(numbers)) WHERE sequence = 5");
    index.close();
    const found = await drumtight(["audit", "--records", copy]);
    expect(`${found.stdout}${found.stderr}`).toMatch(/index/);
    expect(found.code).toBe(1);
    expect((await drumtight(["audit", "--records", records])).code).toBe(0);
  });

  it("days and a serial choose attempts", async () => {
    const day = "2026-01-05";
    expect((await judged(own, { from: day, to: day })).tally.units).toBe(UNITS);
    expect((await judged(own, { from: "2026-01-06" })).tally.units).toBe(0);
    const [unit] = (await judged(tighter)).tally.changedFirst;
    expect((await judged(own, { serial: unit?.serial ?? "" })).tally.units).toBe(1);
    expect((await judged(loadLimitFile("limits/models/tub-12.yaml"))).attempts).toBe(0);
  });
});

describe("a quality engineer has the curves of a recorded shift measured again", () => {
  it("with the limits that judged them every unit keeps its verdict, and progress is told", async () => {
    const told: (readonly [number, number])[] = [];
    const report = await measured(own, (done, of) => told.push([done, of]));
    const { tally } = report.history;
    expect(yieldChange(tally.first)).toMatchObject({
      units: UNITS,
      passToFail: 0,
      failToPass: 0,
      toVoid: 0,
      notRejudged: {},
    });
    expect(tally.first).toEqual((await judged(own)).tally.first);
    expect(told.length).toBeGreaterThan(0);
    for (const [done, of] of told) expect(done).toBeLessThanOrEqual(of);
  });

  it("a higher limit: units, yields, cavities and shifts as from values, and short curves are no pass", async () => {
    const limits = withOverrides(own, { limit: "40 mL/min @ 20 degC" });
    const report = await measured(limits);
    const { tally } = report.history;
    const short = tally.first.notRejudged.get("curve too short") ?? 0;
    const leaks = report.leaks[0]?.counts;
    expect(short).toBe((leaks?.pass["curve too short"] ?? 0) + (leaks?.fail["curve too short"] ?? 0));
    expect(tally.first.passFail).toBe(0);
    const study = curvesReport(head(limits), report, false);
    expect(study.figures).toMatchObject({ from_curves: true, units: UNITS });
    expect(study.tables.map(({ caption }) => caption.split(",")[0])).toEqual(
      expect.arrayContaining(["By tub_cavity", "By shift", "By characteristic"]),
    );
    for (const line of studyText(study).split("\n")) expect(line.length).toBeLessThanOrEqual(80);
  });

  it("another settling time is really measured with, where values alone could not tell", async () => {
    const limits = withOverrides(own, { settle: "1 s" });
    const report = await measured(limits);
    expect(report.leaks[0]?.change?.greatest.value).not.toBe(0);
    const { characteristics } = report.history.tally;
    expect(characteristics[0]?.notJudged.get("other settling time")).toBeUndefined();
    expect(characteristics[0]?.judged).toBeGreaterThan(0);
  });
});

describe("drumtight limits replay", () => {
  it("tells in 80 columns, writes a page, and gives the same figures to programs", async () => {
    const page = join(scratch, "page.html");
    const args = ["--limit", TIGHTER, "--from", "2026-01-05", "--html", page];
    const { stdout, stderr, code } = await replay(pod, ...args);
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    const told = stdout.replace(/\n {2}(?=\S)/g, " ").replace(/ *\n(?=\S)/g, " ");
    expect(told).toMatch(
      /POD-4 revision 4, approved by C\. Holm; changed here: --limit 6 mL\/min @ 20 degC;/,
    );
    expect(stdout).toMatch(/yield was +\d+\.\d\d % +\d+\.\d\d %\n {4}95 % sure +\d+\.\d\d to \d+\.\d\d/);
    expect(stdout).toMatch(/p, McNemar's exact test/);
    expect(stdout).toMatch(/\d+ units? changes? at the first inspection/);
    expect(stdout).toMatch(/\n {2}POD\d+ +1 {2}pass to fail {2}leak rate/);
    for (const line of stdout.split("\n")) expect(line.length).toBeLessThanOrEqual(80);
    const html = readFileSync(page, "utf8");
    expect(html).toMatch(/^<!doctype html/i);
    expect(html).toContain("First pass yield by tub_cavity");
    expect(html).toMatch(/POD\d+/);
    const json = await replay(pod, "--limit", TIGHTER, "--json");
    const said = JSON.parse(json.stdout) as Record<string, unknown>;
    const changes = [`--limit ${TIGHTER}`];
    const whole = valuesReport({ ...head(tighter), changes }, await judged(tighter), false).figures;
    expect(said).toMatchObject(
      JSON.parse(JSON.stringify({ ...whole, limit_file: {}, station: said.station })),
    );
    expect(json.stdout).not.toMatch(/NaN|Infinity/);
  });

  it.each([
    [
      "days without an attempt",
      ["--from", "2027-01-01"],
      1,
      /No attempt of POD-4 in .*check the folder, the dates/,
    ],
    ["days in the wrong order", ["--from", "2026-01-06", "--to", "2026-01-05"], 2, /is after --to/],
  ])("%s are answered with a sentence", async (_, args, code, words) => {
    const finished = await replay(pod, ...args);
    expect(finished.code).toBe(code);
    expect(finished.stdout).toBe("");
    expect(finished.stderr).toMatch(words);
  });
});
