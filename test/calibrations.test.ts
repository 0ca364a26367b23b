import { createHash } from "node:crypto";
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import fc from "fast-check";
import { beforeEach, describe, expect, it, onTestFinished } from "vitest";
import { loadLimitFile } from "../limits/limit-file.ts";
import {
  type Calibration,
  type CalibrationFacts,
  calibrationText,
  readCalibrationFile,
} from "../station/calibration-file.ts";
import {
  calibrationsInForce,
  type ModelCalibrations,
  makeWritable,
  misnamedCalibrations,
  saveCalibration,
} from "../station/calibrations-in-force.ts";
import type { SettleCalibration } from "../station/measure/leak/settle-calibration.ts";
import { readStationFile } from "../station/station-file.ts";
import { openSimulatedStation } from "../station/wiring.ts";

const tub = loadLimitFile("limits/models/tub-12.yaml");
const pod = loadLimitFile("limits/models/pod-4.yaml");
const simulated = readStationFile("/x/demo.yaml", readFileSync("sim/demo-station.yaml", "utf8"));
const real = { ...simulated, isSimulated: false };
const NOW_MS = Date.UTC(2026, 5, 1, 12, 0);

const facts: CalibrationFacts = {
  station: "Demo station 1",
  model: "TUB-12",
  at: "2026-05-20T08:30:15.000Z",
  who: "C. Holm",
  testPressure_Pa: -8_000,
  pieces: ["REF-TIGHT-TUB-12"],
  leakGauge: { name: "leak_gauge", profile: "stream-pressure", identity: "STREAM-PRESSURE 7" },
  limitFile: { path: "tub-12.yaml", revision: 1, sha256: "a".repeat(64) },
  software: "drumtight 0.1.0",
  simulated: false,
};

const values: SettleCalibration = {
  testPressure_Pa: -8_000,
  fill_s: 5.9,
  tau_s: 3.73,
  tauSpread_s: 0.3,
  heat_Pa: -1_090,
  heatSpread_Pa: 54,
  slow_Pa: -2.8,
  slowSpread_Pa: 1.5,
  slowTau_s: 15,
  background_Pa_s: 0.02,
  backgroundUncertainty_Pa_s: 0.05,
  noise: { white_Pa: 0.6, wander_Pa: 0.25, wanderTau_s: 0.5 },
  meanCurve: { t_s: [0, 1, 60], pressure_Pa: [-1_090, -830, 0] },
  runs: 5,
  watched_s: 60,
};

const settle: Calibration = { kind: "settle", facts, values };
const volume: Calibration = {
  kind: "volume",
  facts,
  values: { volume_m3: 0.01246, uncertainty_m3: 0.00013 },
  evidence: {
    method: "calibrated leak",
    known: { value: 5e-7, uncertainty: 5e-9, unit: "m3/s" },
    runs: 9,
    watched_s: 60,
    budget: [
      {
        component: "known leak",
        estimate: 5e-7,
        uncertainty: 5e-9,
        unit: "m3/s",
        sensitivity: 24_920,
        contribution_m3: 0.0001246,
      },
    ],
  },
};

let folder = "";
let station = "";

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "drumtight-calibrations-"));
  const made = folder;
  onTestFinished(() => rmSync(made, { recursive: true, force: true }));
  station = join(folder, "line-2.yaml");
});

function put(name: string, calibration: Calibration): string {
  const text = calibrationText(calibration);
  writeFileSync(join(folder, name), text);
  return text;
}

const dated = (at: string, more: Partial<SettleCalibration> = {}): Calibration => ({
  kind: "settle",
  facts: { ...facts, at },
  values: { ...values, ...more },
});

function inForce(file = real, now_ms = NOW_MS): ModelCalibrations {
  const found = calibrationsInForce(station, file, [tub, pod], now_ms).get("TUB-12");
  if (!found) throw new Error("no TUB-12");
  return found;
}

describe("a calibration's file", () => {
  it.each([
    ["settle", settle],
    ["volume", volume],
  ])("of a %s calibration reads back as it was written", (_, calibration) => {
    expect(readCalibrationFile("x.json", calibrationText(calibration))).toEqual(calibration);
  });

  it("keeps any value to eight digits, whatever its size", () => {
    const size = fc
      .tuple(fc.double({ min: 1, max: 10, noNaN: true }), fc.integer({ min: -12, max: 12 }))
      .map(([digits, power]) => digits * 10 ** power);
    fc.assert(
      fc.property(size, size, fc.boolean(), (fill_s, heat, isNegative) => {
        const heat_Pa = isNegative ? -heat : heat;
        const text = calibrationText({ ...settle, values: { ...values, fill_s, heat_Pa } });
        const read = readCalibrationFile("x.json", text);
        if (read.kind !== "settle") throw new Error(read.kind);
        expect(Math.abs(read.values.fill_s / fill_s - 1)).toBeLessThan(5.1e-8);
        expect(Math.abs(read.values.heat_Pa / heat_Pa - 1)).toBeLessThan(5.1e-8);
      }),
    );
  });

  it("says the unit of each value in its key", () => {
    const numbers = [...calibrationText(settle).matchAll(/"([A-Za-z0-9_]+)": \[? ?-?[\d.]/g)].map(
      ([, key]) => key,
    );
    expect(numbers).toContain("heat_Pa");
    expect(numbers.filter((key) => !/_(Pa|s|Pa_s)$/.test(key ?? ""))).toEqual(["revision", "runs"]);
  });

  it.each([
    [
      "a key that is missing",
      (text: string) => text.replace(/^ *"tau_s": .*\n/m, ""),
      /settle\.tau_s.*missing/,
    ],
    ["a key nobody knows", (text: string) => text.replace('"tau_s"', '"tua_s"'), /tua_s.*did you mean tau_s/],
    [
      "a time constant below zero",
      (text: string) => text.replace('"tau_s": 3.73', '"tau_s": -3.73'),
      /tau_s/,
    ],
    [
      "a number that is none",
      (text: string) => text.replace('"heat_Pa": -1090', '"heat_Pa": "much"'),
      /heat_Pa/,
    ],
    [
      "a curve whose times fall",
      (text: string) => text.replace("[ 0, 1, 60 ]", "[ 0, 60, 1 ]"),
      /times that rise/,
    ],
    [
      "half a file",
      (text: string) => text.slice(0, 700),
      /^x\.json:\d+:\d+: found broken JSON: .*, expected the JSON of a calibration$/,
    ],
    [
      "a comma too few",
      (text: string) => text.replace('"tau_s": 3.73,', '"tau_s": 3.73'),
      /^x\.json:\d+:5: found broken JSON/,
    ],
    [
      "a time constant that was not watched to its end",
      (text: string) => text.replace('"tau_s": 3.73', '"tau_s": 20'),
      /settle\.tau_s: found 20, expected less than a third of watched_s/,
    ],
    [
      "a time constant that spreads down to nothing",
      (text: string) => text.replace('"tau_spread_s": 0.3', '"tau_spread_s": 3.73'),
      /settle\.tau_spread_s: found 3\.73, expected less than tau_s/,
    ],
    [
      "no noise",
      (text: string) => text.replace('"white_Pa": 0.6', '"white_Pa": 0'),
      /settle\.noise\.white_Pa/,
    ],
    ["no fill", (text: string) => text.replace('"fill_s": 5.9', '"fill_s": 0'), /settle\.fill_s/],
    [
      "a curve of fewer pressures than times",
      (text: string) => text.replace("[ -1090, -830, 0 ]", "[ -1090, 0 ]"),
      /as many pressures as times/,
    ],
    ["another version", (text: string) => text.replace("calibration/1", "calibration/2"), /calibration\/1/],
  ])("with %s is refused by name", (_, spoil, words) => {
    const text = calibrationText(settle);
    const spoilt = spoil(text);
    expect(spoilt).not.toBe(text);
    expect(() => readCalibrationFile("x.json", spoilt)).toThrow(words);
  });
});

describe("the calibration in force", () => {
  it("is the newest one beside the station file, with its date and the SHA-256 of its bytes", () => {
    put("line-2.TUB-12.settle.2026-05-01T0600Z.json", dated("2026-05-01T06:00:00.000Z", { tau_s: 1 }));
    const text = put("line-2.TUB-12.settle.2026-05-20T0830Z.json", settle);
    put("line-2.TUB-12.settle.2025-12-31T2359Z.json", dated("2025-12-31T23:59:00.000Z", { tau_s: 2 }));
    expect(inForce()).toEqual({
      settle: {
        calibration: values,
        date: facts.at,
        sha256: createHash("sha256").update(text).digest("hex"),
        file: "line-2.TUB-12.settle.2026-05-20T0830Z.json",
      },
      volume: null,
      problems: [],
    });
  });

  it("is the later one of two in one minute, by number and not by letters", () => {
    put("line-2.TUB-12.settle.2026-05-20T0830Z.json", dated(facts.at, { tau_s: 1 }));
    put("line-2.TUB-12.settle.2026-05-20T0830Z-2.json", dated(facts.at, { tau_s: 2 }));
    put("line-2.TUB-12.settle.2026-05-20T0830Z-10.json", dated(facts.at, { tau_s: 10 }));
    expect(inForce().settle?.calibration.tau_s).toBe(10);
  });

  it("does not count while its date lies in the future, and that is told; the one before stays in force", () => {
    put("line-2.TUB-12.settle.2026-05-20T0830Z.json", settle);
    put("line-2.TUB-12.settle.2026-07-01T0000Z.json", dated("2026-07-01T00:00:00.000Z", { tau_s: 9 }));
    const { settle: found, problems } = inForce();
    expect(found?.calibration.tau_s).toBe(3.73);
    expect(problems).toMatchObject([
      {
        what: "not yet",
        sentence: expect.stringMatching(/2026-07-01T0000Z\.json is dated in the future.*clock/),
      },
    ]);
    expect(inForce(real, Date.UTC(2026, 6, 1, 0, 0)).settle?.calibration.tau_s).toBe(9);
  });

  it("is each model's, kind's and station file's own", () => {
    put("line-2.TUB-12.volume.2026-05-20T0830Z.json", volume);
    put("line-3.TUB-12.settle.2026-05-20T0830Z.json", settle);
    put("line-2.POD-4.settle.2026-05-20T0830Z.json", {
      ...settle,
      facts: { ...facts, model: "POD-4", testPressure_Pa: 5_000 },
    });
    const all = calibrationsInForce(station, real, [tub, pod], NOW_MS);
    expect(all.get("TUB-12")?.settle).toBeNull();
    expect(all.get("TUB-12")?.volume?.calibration).toEqual({ volume_m3: 0.01246, uncertainty_m3: 0.00013 });
    expect(all.get("POD-4")?.settle?.file).toBe("line-2.POD-4.settle.2026-05-20T0830Z.json");
    expect(all.get("POD-4")?.volume).toBeNull();
  });

  it.each<[string, Partial<CalibrationFacts>, RegExp]>([
    ["another model", { model: "POD-4" }, /is of the model POD-4/],
    ["another station", { station: "Line 9" }, /is of the station "Line 9"/],
    [
      "another test pressure",
      { testPressure_Pa: -10_000 },
      /made at -10 kPa, and the limit file tests at -8 kPa/,
    ],
    ["a simulated station", { simulated: true }, /made on a simulated station/],
    [
      "another kind of leak gauge",
      { leakGauge: { name: "leak_gauge", profile: "hall-gauge", identity: "" } },
      /profile hall-gauge, and the station has stream-pressure/,
    ],
    ["a day to come, by its content", { at: "2027-01-01T00:00:00.000Z" }, /2027-01-01.*in the future/],
  ])(
    "of %s is not used, nor the older one behind its back; one sentence says so and what to do",
    (_, change, words) => {
      put("line-2.TUB-12.settle.2026-05-01T0600Z.json", dated("2026-05-01T06:00:00.000Z"));
      put("line-2.TUB-12.settle.2026-05-20T0830Z.json", { ...settle, facts: { ...facts, ...change } });
      const { settle: found, problems } = inForce();
      expect(found).toBeNull();
      expect(problems).toHaveLength(1);
      const [problem] = problems;
      expect(problem?.what).toBe("unusable");
      expect(problem?.sentence).toMatch(words);
      expect(problem?.sentence).toMatch(
        /^line-2\.TUB-12\.settle\.2026-05-20T0830Z\.json .*not used: .*drumtight study settle --model TUB-12\.$/,
      );
    },
  );

  it("that is broken is not used either, and the place of the mistake is named", () => {
    const name = "line-2.TUB-12.settle.2026-05-20T0830Z.json";
    writeFileSync(join(folder, name), calibrationText(settle).replace('"tau_s": 3.73', '"tau_s": 0'));
    const { settle: found, problems } = inForce();
    expect(found).toBeNull();
    expect(problems[0]?.sentence).toMatch(
      /is broken \(line-2.*json:\d+:\d+: settle\.tau_s: found 0.*is not used/,
    );
  });

  it("of the wrong kind behind the right name is not used", () => {
    put("line-2.TUB-12.settle.2026-05-20T0830Z.json", volume);
    expect(inForce().problems[0]?.sentence).toMatch(/is a volume calibration and is not used/);
  });

  it("made on a simulated station counts on a simulated one", () => {
    put("line-2.TUB-12.settle.2026-05-20T0830Z.json", { ...settle, facts: { ...facts, simulated: true } });
    expect(inForce(simulated).settle).not.toBeNull();
  });

  it("is not taken from files whose names are no dates of calibrations", () => {
    for (const name of [
      "2026-13-01T0000Z",
      "2026-05-20T2561Z",
      "2026-05-20",
      "2026-05-20T0830Z-0",
      "2026-05-20T0830Z.bak",
    ]) {
      put(`line-2.TUB-12.settle.${name}.json`, settle);
    }
    expect(inForce()).toEqual({ settle: null, volume: null, problems: [] });
  });
});

describe("a file that looks like a calibration", () => {
  const misnamed = () => misnamedCalibrations(station, ["TUB-12", "POD-4"]);

  it.each([
    "line-2.TUB-12.settle.json",
    "line-2.TUB-12.settle.2026-05-20T0830Z copy.json",
    "line-2.TUB-12.settle.2026-05-20T0830Z.json.bak",
    "line-2.TUB-12.volume.2026-13-01T0000Z.json",
    "line-2.TUB12.settle.2026-05-20T0830Z.json",
    "line-2.settle.2026-05-20T0830Z.json",
  ])("and is none by its name, %s, is told of by name, and refuses nothing", (name) => {
    put(name, settle);
    expect(misnamed()).toEqual([
      {
        kind: "misnamed",
        what: "ignored",
        sentence: expect.stringMatching(
          / looks like a calibration.*\(TUB-12, POD-4\).*not used\. Name it like line-2\./,
        ),
      },
    ]);
    expect(misnamed()[0]?.sentence.startsWith(`${name} `)).toBe(true);
    expect(inForce().problems).toEqual([]);
  });

  it("is not told of where it is one, is another station's, or is no such file", () => {
    put("line-2.TUB-12.settle.2026-05-20T0830Z.json", settle);
    put("line-2.POD-4.volume.2026-05-20T0830Z-2.json", volume);
    put("line-20.TUB-99.settle.2026-05-20T0830Z.json", settle);
    put("line-2.b.TUB-99.settle.2026-05-20T0830Z.json", settle);
    for (const name of ["line-2.yaml", "line-2.b.yaml", "line-2.settled.txt"])
      writeFileSync(join(folder, name), "");
    expect(misnamed()).toEqual([]);
  });
});

describe("a station that starts", () => {
  it("tells of what it passes over, and is ready all the same", async () => {
    const text = readFileSync("sim/demo-station.yaml", "utf8");
    writeFileSync(station, text.replace("limits: ../limits/models", `limits: ${resolve("limits/models")}`));
    writeFileSync(join(folder, "line-2.TUB-12.settle.json"), "{}");
    const setup = { seed: 7, pace: "virtual", allowDrafts: false, stationPath: station } as const;
    const running = await openSimulatedStation({ ...setup, recordsFolder: join(folder, "records") });
    onTestFinished(() => running.runUntil(running.close()));
    expect(running.passedOver).toEqual([expect.stringMatching(/^line-2\.TUB-12\.settle\.json looks like/)]);
  });
});

describe("saving a calibration", () => {
  it("makes a new file each time, which is in force from then on, and leaves the earlier ones as they were", async () => {
    const first = await saveCalibration(settle, station, folder);
    const before = readFileSync(first, "utf8");
    const second = await saveCalibration(dated(facts.at, { tau_s: 4 }), station, folder);
    const third = await saveCalibration(dated(facts.at, { tau_s: 5 }), station, folder);
    expect(readdirSync(folder).sort()).toEqual([
      "line-2.TUB-12.settle.2026-05-20T0830Z-2.json",
      "line-2.TUB-12.settle.2026-05-20T0830Z-3.json",
      "line-2.TUB-12.settle.2026-05-20T0830Z.json",
    ]);
    expect([first, second, third]).toEqual([...new Set([first, second, third])]);
    expect(readFileSync(first, "utf8")).toBe(before);
    expect(inForce().settle?.calibration.tau_s).toBe(5);
  });

  it("writes nothing that could not be read back", async () => {
    await expect(saveCalibration(dated(facts.at, { tau_s: Number.NaN }), station, folder)).rejects.toThrow(
      /tau_s/,
    );
    expect(readdirSync(folder)).toEqual([]);
  });

  it("into a folder that is not there is refused in a sentence", async () => {
    await expect(saveCalibration(settle, station, join(folder, "nowhere"))).rejects.toThrow(
      /nowhere can't be used for calibrations: there is no such folder/,
    );
    await expect(saveCalibration(settle, station, "/dev/null")).rejects.toThrow(
      /^The folder \/dev\/null can't be used for calibrations: it is a file, not a folder\.$/,
    );
  });
});

it("the folder for calibrations is made, or it is said why not", () => {
  const scratch = mkdtempSync(join(tmpdir(), "drumtight-calibrations-"));
  onTestFinished(() => rmSync(scratch, { recursive: true, force: true }));
  const folder = join(scratch, "not", "there yet");
  makeWritable(folder);
  expect(readdirSync(folder)).toEqual([]);
  writeFileSync(join(scratch, "file"), "");
  for (const impossible of ["/proc/drumtight/calibrations", join(scratch, "file", "below")]) {
    expect(() => makeWritable(impossible)).toThrow(/ can't be made \(E[A-Z]+\): choose one .* --out\.$/);
  }
});
