import { createHash } from "node:crypto";
import {
  cpSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { parseDocument } from "yaml";
import { loadLimitFile } from "../../limits/limit-file.ts";
import { Population } from "../../sim/population.ts";
import { StationPlant } from "../../sim/station-plant.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { readStationFileAlone } from "../../station/load-station.ts";
import { NOBODY } from "../../station/people/person.ts";
import { type ReplayOrder, replayRecords } from "../../station/replay-records.ts";
import { OneByOne } from "../../station/test-one.ts";
import { demoStationPath, loadStation, openStation, type RunningStation } from "../../station/wiring.ts";
import { drumtight, type Finished } from "./command-line.ts";

const pod = "limits/models/pod-4.yaml";
const UNITS = 12;
const TIMER =
  "settle: 12 s\n    method: { kind: slope, subtract_mean_curve: false }\n    measure_longest: 6 s\n    early_verdict: off";
const EARLY =
  "settle: 0.3 s\n    method: { kind: fitted }\n    measure_longest: 12 s\n    early_verdict: { measure_shortest: 2 s, look_every: 0.25 s, false_accept: 0.05 %, false_reject: 0.05 % }";

const scratch = mkdtempSync(join(tmpdir(), "drumtight-replay-"));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

/** The compact body's limits with this leak step, and another upper limit; a draft. */
function podLimits(leakStep: string, upper = "60 mL/min @ 20 degC"): string {
  const [before = "", after = ""] = readFileSync(pod, "utf8").split(
    /settle:[\s\S]*?early_verdict:.*\n(?: {6}.*\n)*/,
  );
  return `${before}${leakStep}\n${after}`.replace(/upper: .*mL\/min @ 20 degC/, `upper: ${upper}`);
}

/** A station of its own in virtual time: the demo's, with these limits only. */
class Plant {
  readonly folder: string;
  readonly stationPath: string;
  readonly limitsPath: string;
  readonly records: string;
  #running: RunningStation | undefined;
  readonly #clock = new VirtualClock();

  constructor(name: string, leakStep: string) {
    this.folder = join(scratch, name);
    this.stationPath = join(this.folder, "demo-station.yaml");
    this.limitsPath = join(this.folder, "models", "pod-4.yaml");
    this.records = join(this.folder, "records");
    mkdirSync(join(this.folder, "models"), { recursive: true });
    mkdirSync(this.records);
    const station = parseDocument(readFileSync(demoStationPath(), "utf8"));
    station.set("limits", "models");
    station.set("records", "records");
    station.set("reference_check", "off");
    writeFileSync(this.stationPath, station.toString());
    writeFileSync(this.limitsPath, podLimits(leakStep));
  }

  /** Tests the first units of a seed; the station stays open. */
  async test(count: number): Promise<void> {
    const loaded = loadStation(this.stationPath, undefined, "simulated");
    const models = loaded.models.map(({ limits }) => limits);
    const plant = new StationPlant({ clock: this.#clock, seed: 7, models });
    const opening = openStation({
      ...loaded,
      clock: this.#clock,
      recordsFolder: this.records,
      allowDrafts: true,
      attach: (name) => {
        const instrument = plant.instruments.get(name);
        return instrument && ((far) => instrument.attach(far));
      },
      hold: () => this.#clock.hold(),
    });
    this.#running = await this.#clock.runUntil(opening);
    const { station } = this.#running;
    station.signIn(NOBODY);
    const one = new OneByOne(station);
    for (const body of new Population({ seed: 7, models }).units(count)) {
      plant.mount(body);
      await this.#clock.runUntil(one.test({ serial: body.serial, parts: body.parts }));
    }
  }

  async close(): Promise<void> {
    const running = this.#running;
    if (running) await this.#clock.runUntil(running.close());
  }

  replay(...args: string[]): Promise<Finished> {
    const own = [
      ...(args.includes("--records") ? [] : ["--records", this.records]),
      ...(args.includes("--station") ? [] : ["--station", this.stationPath]),
    ];
    return replayed(this.limitsPath, ...own, ...args);
  }
}

function replayed(limits: string, ...args: string[]): Promise<Finished> {
  return drumtight(["limits", "replay", limits, "--from-curves", ...args]);
}

interface Finding {
  readonly value: number | null;
  readonly verdict: string;
  readonly why: string | null;
}

interface ReplayJson {
  readonly attempts: number;
  readonly drafts: number;
  readonly simulated: number;
  readonly references_left_out: number;
  readonly broken: readonly { readonly path: string; readonly problem: string }[];
  readonly calibrations: { readonly settle: Readonly<Record<string, number>> };
  readonly leak_rates: readonly {
    readonly reference_piece: string | null;
    readonly counts: Readonly<Record<string, Readonly<Record<string, number>>>>;
    readonly early: number;
    readonly gross_leaks: number;
    readonly change: { readonly median: number } | null;
    readonly step_s: { readonly before: number; readonly after: number } | null;
    readonly changed: readonly {
      readonly serial: string;
      readonly before: Finding;
      readonly after: Finding;
    }[];
    readonly all?: readonly { readonly before: Finding; readonly after: Finding | null }[];
  }[];
}

function json({ stdout }: Finished) {
  const report = JSON.parse(stdout) as ReplayJson;
  const [leak] = report.leak_rates;
  return { report, leak: leak as NonNullable<typeof leak> };
}

/** Every file and folder below, with its bytes and when it was last changed. */
function footprint(folder: string): Map<string, string> {
  const seen = new Map<string, string>();
  for (const entry of readdirSync(folder, { recursive: true, withFileTypes: true })) {
    // Memory that writer and readers of the index share while it is open, and no record.
    if (entry.name.endsWith("-shm")) continue;
    const path = join(entry.parentPath, entry.name);
    const bytes = entry.isFile() ? createHash("sha256").update(readFileSync(path)).digest("hex") : "";
    seen.set(path, `${statSync(path, { bigint: true }).mtimeNs} ${bytes}`);
  }
  seen.set(folder, String(statSync(folder, { bigint: true }).mtimeNs));
  return seen;
}

const timer = new Plant("timer", TIMER);
const early = new Plant("early", EARLY);

beforeAll(async () => {
  // What the fit needs to know, learned as anybody would.
  const study = await drumtight(["study", "settle", "--model", "POD-4", "--simulate", "--out", early.folder]);
  expect(study.code).toBe(0);
  for (const plant of [timer, early]) await plant.test(UNITS);
}, 120_000);
afterAll(async () => {
  for (const plant of [timer, early]) await plant.close();
});

describe("a quality engineer replays the limits that units were tested with", () => {
  it.each([
    ["a fixed timer", timer, 0],
    ["early verdicts of a fit", early, UNITS],
  ] as const)("and every value and verdict is the recorded one, with %s", async (_, plant, learned) => {
    const finished = await plant.replay("--json", "--list");
    const { report, leak } = json(finished);
    expect(finished).toMatchObject({ code: 0, stderr: "" });
    expect(report).toMatchObject({ attempts: UNITS, drafts: UNITS, simulated: UNITS, broken: [] });
    expect(report.calibrations.settle["as made"]).toBe(learned);
    expect(leak.all).toHaveLength(UNITS);
    for (const { before, after } of leak.all ?? []) expect(after).toEqual(before);
    expect(leak.changed).toEqual([]);
    expect(leak.step_s?.after).toBe(leak.step_s?.before);
    expect(leak.early > 0).toBe(plant === early);
  });

  it("while the station runs, without leaving a trace in the folder", async () => {
    const before = footprint(timer.records);
    expect(before.size).toBeGreaterThan(UNITS);
    expect((await timer.replay("--settle", "4 s")).code).toBe(0);
    expect(footprint(timer.records)).toEqual(before);
  });

  it("makes no index in a folder that has none", async () => {
    const copy = join(scratch, "copy");
    cpSync(join(timer.records, "2026"), join(copy, "2026"), { recursive: true });
    const before = footprint(copy);
    expect((await timer.replay("--records", copy)).code).toBe(0);
    expect(footprint(copy)).toEqual(before);
  });
});

describe("a quality engineer asks what another limit file would have done", () => {
  it("a lower limit turns passes into fails, unit by unit", async () => {
    const strict = join(scratch, "strict.yaml");
    writeFileSync(strict, podLimits(TIMER, "4 mL/min @ 20 degC"));
    const finished = await replayed(
      strict,
      "--records",
      timer.records,
      "--station",
      timer.stationPath,
      "--json",
    );
    const { leak } = json(finished);
    expect(finished.code).toBe(0);
    expect(leak.changed.length).toBeGreaterThan(0);
    expect(leak.changed.length).toBe(leak.counts.pass?.fail);
    for (const { before, after } of leak.changed) {
      expect(after.value).toBe(before.value);
      expect([before.verdict, after.verdict]).toEqual(["pass", "fail"]);
      expect(after.why).toMatch(/limit/);
    }
    const asOption = json(await timer.replay("--limit", "4 mL/min", "--json"));
    expect(asOption.leak.changed).toEqual(leak.changed);
  });

  it("a longer settle shows less heat, and one that asks for more than there is has no answer", async () => {
    const { leak } = json(await timer.replay("--settle", "15 s", "--measure", "3 s", "--json"));
    expect(leak.change?.median).toBeLessThan(-0.5);
    const tooLong = json(await timer.replay("--settle", "15 s", "--json")).leak;
    const short = Object.values(tooLong.counts).map((row) => row["curve too short"] ?? 0);
    expect(short.reduce((sum, count) => sum + count, 0)).toBe(UNITS - tooLong.gross_leaks);
    expect(tooLong.change).toBeNull();
  });

  it("the fit, with what is known today, would have taken half the time", async () => {
    const { report, leak } = json(
      await replayed(early.limitsPath, "--records", timer.records, "--station", early.stationPath, "--json"),
    );
    expect(report.calibrations.settle["today's"]).toBe(UNITS);
    expect(leak.early).toBeGreaterThan(UNITS / 2);
    expect(leak.step_s?.after).toBeLessThan((leak.step_s?.before ?? 0) / 2);
  });

  it("the fit has no answer at a station that has not learned it, and what to do is said", async () => {
    const { code, stdout, stderr } = await timer.replay("--method", "fitted");
    expect(stdout).toMatch(/no settle calibration/);
    expect(stderr).toMatch(/run drumtight study settle --model POD-4 first/);
    expect(code).toBe(0);
  });

  it("curves that an early verdict ended are too short for a timer, and are not guessed", async () => {
    const { leak } = json(await early.replay("--method", "slope", "--settle", "10 s", "--json"));
    expect(leak.early).toBe(0);
    expect(leak.counts.pass?.["curve too short"]).toBeGreaterThan(UNITS / 2);
  });

  it("is told in words: whose limits, a table, the times, and why each verdict changes", async () => {
    const { stdout } = await timer.replay("--limit", "4 mL/min", "--method", "difference");
    const told = stdout.replace(/\n {2}(?=\S)/g, " ").replace(/ *\n(?=\S)/g, " ");
    expect(told).toMatch(
      /POD-4 revision \d+, approved by nobody whom this station lists; changed here: --method difference, --limit 4 mL\/min;/,
    );
    expect(told).toContain("leak: difference, settle 12 s, measure 6 s.");
    expect(told).toContain(
      `${UNITS} attempts with draft limits: in the tables of leak rates, and in no yield.`,
    );
    expect(stdout).toMatch(/now pass {2}now fail {2}now void\n {2}was pass +\d+ +\d+ +0\n/);
    expect(told).toMatch(/Leak step, median: \d\d\.\d s recorded, \d\d\.\d s now\./);
    expect(stdout).toMatch(
      /\n {2}POD\d{6} \(draft limits\) +[\d.]+ ± [\d.]+ mL\/min pass +[\d.]+ ± [\d.]+ mL\/min fail/,
    );
    expect(stdout).toContain("above the upper limit\n");
    for (const line of stdout.split("\n")) expect(line.length).toBeLessThanOrEqual(80);
  });
});

describe("a quality engineer asks of some attempts only", () => {
  it("of one unit, of some days, and of reference pieces too", async () => {
    const records = join(scratch, "references");
    const run = await drumtight([
      "run",
      "--simulate",
      "--units",
      "2",
      "--model",
      "POD-4",
      "--records",
      records,
    ]);
    expect(run.code).toBe(0);
    const { code, stdout, stderr } = await replayed(
      pod,
      "--records",
      records,
      "--json",
      "--list",
      "--references",
    );
    const { report } = json({ code, stdout, stderr });
    expect(report).toMatchObject({ attempts: 4, references_left_out: 0, drafts: 0 });
    expect(report.leak_rates.map(({ reference_piece }) => reference_piece)).toEqual([
      null,
      "REF-TIGHT-POD-4",
      "REF-LEAK-POD-4",
    ]);
    const all = report.leak_rates.flatMap((leak) => leak.all ?? []);
    expect(all).toHaveLength(4);
    for (const { before, after } of all) expect(after).toEqual(before);

    const ask = async (query: ReplayOrder["query"]) => {
      const { attempts, referencesLeftOut } = await replayRecords({
        limits: loadLimitFile(pod),
        recordsFolder: records,
        stationPath: demoStationPath(),
        station: readStationFileAlone(demoStationPath()),
        now_ms: Date.now(),
        query,
        withReferences: false,
        keepAll: false,
      });
      return [attempts, referencesLeftOut];
    };
    expect(await ask({})).toEqual([2, 2]);
    expect(await ask({ from: "2026-01-05", to: "2026-01-05" })).toEqual([2, 2]);
    expect(await ask({ from: "2026-01-06" })).toEqual([0, 0]);
    expect(await ask({ to: "2026-01-04" })).toEqual([0, 0]);
    const [serial = ""] = readdirSync(join(records, "2026/01/05")).flatMap(
      (name) => /POD\d+/.exec(name) ?? [],
    );
    expect(await ask({ serial })).toEqual([1, 0]);
    expect(await ask({ serial: serial.slice(0, -1) })).toEqual([0, 0]);
  });
});

describe("a records folder that does not answer", () => {
  it("names broken travellers, leaves them out and counts them, with exit code 1", async () => {
    const broken = join(scratch, "broken");
    cpSync(join(timer.records, "2026"), join(broken, "2026"), { recursive: true });
    const day = join(broken, "2026/01/05");
    const names = readdirSync(day).sort();
    const [edited = "", cut = "", emptied = ""] = [names[1], names[5], names[8]];
    const text = readFileSync(join(day, edited), "utf8");
    writeFileSync(join(day, edited), text.replace(/"pressure_Pa":\d/, '"pressure_Pa":9'));
    writeFileSync(join(day, cut), text.slice(0, 100));
    writeFileSync(join(day, emptied), "");
    const { code, stdout, stderr } = await timer.replay("--records", broken, "--json");
    const { report } = json({ code, stdout, stderr });
    expect(code).toBe(1);
    expect(report.attempts).toBe(UNITS - 3);
    expect(report.broken.map(({ path }) => path)).toEqual(
      [edited, cut, emptied].map((name) => join(day, name)),
    );
    expect(stderr).toContain(
      `${join(day, edited)} is not as it was recorded and was left out: it was changed`,
    );
    expect(stderr.trimEnd().split("\n")).toHaveLength(3);
  });

  it.each([
    [
      "is empty",
      () => mkdtempSync(join(scratch, "empty-")),
      "limits/models/pod-4.yaml",
      1,
      /No attempt of POD-4/,
    ],
    ["has another model's only", () => timer.records, "limits/models/tub-12.yaml", 1, /No attempt of TUB-12/],
    [
      "is not there",
      () => join(scratch, "nowhere"),
      "limits/models/pod-4.yaml",
      2,
      /There is no records folder/,
    ],
  ] as const)("that %s", async (_, records, limits, exitCode, words) => {
    const { code, stdout, stderr } = await replayed(limits, "--records", records());
    expect(stderr).toMatch(words);
    expect(stderr.trimEnd().split("\n")).toHaveLength(1);
    expect({ code, stdout }).toEqual({ code: exitCode, stdout: "" });
  });

  it("of another station is measured with what is known of this one, which is said", async () => {
    const other = join(scratch, "other");
    mkdirSync(other);
    const text = readFileSync(timer.stationPath, "utf8").replace("name: Demo station 1", "name: Line 2");
    writeFileSync(join(other, "station.yaml"), text);
    const { stderr } = await timer.replay("--station", join(other, "station.yaml"));
    expect(stderr).toMatch(/12 attempts were made on the station "Demo station 1".*"Line 2".*--station\.\n$/);
  });
});

describe("a replay that can't be meant", () => {
  it.each([
    [
      "with another time but without the curves",
      ["limits", "replay", pod, "--settle", "5 s", "--references"],
      /--settle and --references ask for measuring again: add --from-curves/,
    ],
    ["of a file that is not there", ["limits", "replay", "nowhere.yaml", "--from-curves"], /nowhere\.yaml/],
    [
      "of days in the wrong order",
      ["limits", "replay", pod, "--from-curves", "--from", "2026-01-06", "--to", "2026-01-05"],
      /--from 2026-01-06 is after --to 2026-01-05/,
    ],
    [
      "of a day that no calendar has",
      ["limits", "replay", pod, "--from-curves", "--from", "2026-02-30"],
      /Give a date like 2026-01-05/,
    ],
    [
      "of a mean curve taken off a fit",
      ["limits", "replay", pod, "--from-curves", "--method", "fitted", "--subtract-mean-curve"],
      /--subtract-mean-curve is for fixed timers/,
    ],
    [
      "by an unknown method",
      ["limits", "replay", pod, "--from-curves", "--method", "guess"],
      /fitted, slope, difference/,
    ],
    ["with a time that is none", ["limits", "replay", pod, "--from-curves", "--settle", "5"], /--settle/],
  ])("%s says what to do instead", async (_, args, words) => {
    const { code, stdout, stderr } = await drumtight(args);
    expect(stderr).toMatch(words);
    expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
  });
});
