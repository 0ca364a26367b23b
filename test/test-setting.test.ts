import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { loadLimitFile } from "../limits/limit-file.ts";
import type { LeakStep } from "../limits/model.ts";
import { leakConditions } from "../station/cycle/leak-judging.ts";
import { type Cleaner, keptWith, leakKeeping, weakerThan } from "../station/limit-from-suction.ts";
import { fanThrough, inletPassing } from "../station/measure/airflow/leak-cost.ts";
import { foreseeLeak } from "../station/measure/leak/foreseen-leak.ts";
import { timingLines, upperLine } from "../station/quality/test-setting/limit-lines.ts";
import { stepAt } from "../station/quality/test-setting/timing-report.ts";
import { studyTiming } from "../station/quality/test-setting/timing-study.ts";
import { longestCovered_s, measureTimings, type RecordedCurve } from "../station/timing-records.ts";
import { bodyCurve, LEARNED, madeTraveller, podWith, SETTLING, station } from "./made-traveller.ts";

const scratch = mkdtempSync(join(tmpdir(), "drumtight-setting-"));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

const FITTED: Partial<LeakStep> = {
  settle_s: 0.3,
  measureLongest_s: 24,
  method: { kind: "fitted" },
  earlyVerdict: null,
};

async function measuredAgain(step: Partial<LeakStep>) {
  const recordedWith = podWith(FITTED);
  const curves: RecordedCurve[] = Array.from({ length: 14 }, (_, i) => ({
    traveller: {
      ...madeTraveller({
        limits: recordedWith,
        calibration: LEARNED,
        curve: bodyCurve(2 + i, { seed: 20 + i, seconds: 25 }),
      }),
      id: String(i).padStart(32, "0"),
    },
    calibration: LEARNED,
    reach_s: 24.3,
  }));
  const limits = podWith(step);
  const leak = limits.steps.find((it) => it.kind === "leak");
  const [rate] = limits.characteristics;
  if (leak?.kind !== "leak" || !rate) throw new Error("no leak step");
  const units = Array.from({ length: 20 }, (_, i) => ({
    id: `recorded ${i}`,
    part: { mean: 3 + i / 4, sd: 0.5, weight: 1 },
  }));
  const settings = [
    { settle_s: 0.3, measure_s: 6 },
    { settle_s: 0.3, measure_s: 13 },
    { settle_s: 12, measure_s: 6 },
  ];
  const order = {
    ...{ limits, step: leak, rate, recordsFolder: "", stationPath: "sim/demo-station.yaml", today: LEARNED },
    ...{ knowledge: station.knowledge, query: { model: "POD-4" } },
  };
  const records = {
    ...{
      curves,
      units,
      endedEarly: 0,
      grossLeaks: 0,
      withoutRate: 0,
      inDoubt: 0,
      studied: 0,
      broken: [],
      attempts: 14,
      simulated: 0,
    },
  };
  const measured = await measureTimings(records, order, settings, longestCovered_s(curves) ?? 0, () => {});
  const study = studyTiming({
    ...{ limit: 25, rule: rate.rule, settings, curves: measured.curves, population: measured.population },
    ...{ grossLeaks: 0, mostUncertain: 25 / 3, risks: { falseAccept: 0.01, falseReject: 0.01 } },
  });
  return { limits, leak, measured, study };
}

describe("recorded curves measured again by other times", () => {
  it("are as uncertain as the warnings about limit files foresee, given as many readings", async () => {
    const { limits, leak, study } = await measuredAgain(FITTED);
    const ambient = { temperature_K: 294.351, pressure_Pa: 100_951.7, relativeHumidity: 0.42 };
    const phases = [{ step: "leak", phase: "fill", start_s: 0, end_s: SETTLING.fill_s }] as const;
    const conditions = leakConditions(
      leak,
      { limits, calibration: LEARNED },
      { ambient, phases },
      station.knowledge,
    );
    if (!conditions) throw new Error("no conditions");
    const gauge = station.knowledge.channels.get("leak_pressure");
    for (const [k, measure_s] of [6, 13].entries()) {
      const step = { ...leak, measureLongest_s: measure_s };
      const foreseen = foreseeLeak(25 / 6e7, step, conditions, gauge?.absolute ?? 0, 50 * measure_s);
      const found = 2 * (study.settings[k]?.uncertainty ?? Number.NaN);
      const ratio = found / (6e7 * (foreseen.expandedUncertainty_m3_s ?? Number.NaN));
      expect(Math.abs(ratio - 1)).toBeLessThan(0.1);
    }
  });

  it("scatter as their budget says, the less the longer", async () => {
    const { study } = await measuredAgain(FITTED);
    const [short, long] = study.settings;
    expect(short?.spread).toBeGreaterThan(2 * (long?.spread ?? Number.NaN));
    for (const it of [short, long]) expect(it?.spread).toBeLessThan(1.5 * (it?.uncertainty ?? Number.NaN));
    expect(study.chosen).not.toBeNull();
  });

  it("by a timer that does not know of heat pass nobody until the heat is gone", async () => {
    const { study, measured } = await measuredAgain({
      ...FITTED,
      method: { kind: "slope", subtractsMeanCurve: false },
    });
    expect(measured.whole.method.kind).toBe("fitted");
    const [early, , late] = study.settings;
    expect(early).toMatchObject({ passesNobody: true, keeps: false });
    // What heat and slow part still move between 12 s and 18 s, in a body of 4.4 L.
    const left_Pa =
      820 * (Math.exp(-12 / 2.5) - Math.exp(-18 / 2.5)) + 12 * (Math.exp(-12 / 25) - Math.exp(-18 / 25));
    const left_mLmin = (left_Pa / 6) * (4.4e-3 / 101_325) * 6e7;
    expect(Math.abs((late?.bias ?? Number.NaN) - left_mLmin)).toBeLessThan(0.5);
  });
});

describe("lines for a limit file", () => {
  const text = readFileSync("limits/models/tub-12.yaml", "utf8");
  const step = loadLimitFile("limits/models/tub-12.yaml").steps.find((it) => it.kind === "leak") as LeakStep;

  function withLines(lines: readonly string[]) {
    // A key with the lines that belong to it, which are further in.
    const keys = lines.join("\n").split(/\n(?! )/);
    const changed = keys.reduce((file, one) => {
      const key = one.slice(0, one.indexOf(":"));
      // The first of the name is the leak step's, and the leak rate's.
      return file.replace(new RegExp(`^    ${key}: .*$`, "m"), one.replace(/^/gm, "    "));
    }, text);
    const path = join(scratch, "tub-12.yaml");
    writeFileSync(path, changed);
    return loadLimitFile(path);
  }

  it.each([
    ["a longer fit", step, { settle_s: 0.5, measure_s: 20 }],
    ["a fit too short for an early verdict", step, { settle_s: 0.3, measure_s: 2 }],
    [
      "a timer",
      { ...step, method: { kind: "slope", subtractsMeanCurve: true }, earlyVerdict: null } as const,
      { settle_s: 12.5, measure_s: 5 },
    ],
  ] as const)("of %s are read back as they were meant", (_, from, timing) => {
    const meant = stepAt(from, timing);
    const [read] = withLines(timingLines(meant)).steps;
    expect(read).toEqual(meant);
    expect(meant.earlyVerdict === null).toBe(timing.measure_s < 3 || from.earlyVerdict === null);
  });

  it("of a limit are read back as it", () => {
    const [rate] = withLines([upperLine(41.27, "mL/min @ 20 degC")]).characteristics;
    expect(rate?.upper).toBeCloseTo(41.2 / 6e7, 15);
  });
});

describe("the leak that leaves a required suction power", () => {
  const fan = fanThrough({ sealed_Pa: 22_000, open_m3_s: 0.068, middle: null });
  const inlet = fan && inletPassing(fan, 0.02, 0.6);
  const test = { pressure_Pa: -8_000, barometer_Pa: 101_325 };

  it("leaves just that, and less with more leak", () => {
    if (!fan || !inlet) throw new Error("no fan");
    const cleaner: Cleaner = { name: "stated", fan, inlet };
    // Tight: 22 kPa (1 - 20/68) times 20 L/s.
    const tight_W = 22_000 * (1 - 20 / 68) * 0.02;
    for (const power_W of [250, 300, 0.999 * tight_W]) {
      const required = { kind: "suction power", power_W } as const;
      const leak = leakKeeping(cleaner, required, test) ?? Number.NaN;
      expect(keptWith(cleaner, required, leak, test)).toBeCloseTo(power_W, 4);
      expect(keptWith(cleaner, required, 1.01 * leak, test)).toBeLessThan(power_W);
    }
    expect(leakKeeping(cleaner, { kind: "suction power", power_W: 1.001 * tight_W }, test)).toBeNull();
    const half = { kind: "suction", suction_Pa: 8_000 } as const;
    expect(keptWith(cleaner, half, leakKeeping(cleaner, half, test) ?? 0, test)).toBeCloseTo(8_000, 3);
  });

  it("is what the fan moves beyond the inlet, by hand, and less for the weaker of fans that differ", () => {
    if (!fan || !inlet) throw new Error("no fan");
    const cleaner: Cleaner = { name: "stated", fan, inlet };
    const required = { kind: "suction", suction_Pa: 14_000 } as const;
    // The inlet takes 20 L/s at 22 kPa (1 - 20/68) = 15.529 kPa, so 20 sqrt(14 / 15.529) = 18.99 L/s at 14 kPa (its air taken as
    // incompressible, good to a part in a hundred here). The rest of what the fan moves is leak: laminar, as the difference of
    // the squares of the absolute pressures, 2641 kPa2 at 14 kPa against 1557 kPa2 at 8 kPa; 1.204 kg/m3 at 20 degC.
    const byHand = (sealed_kPa: number) =>
      ((68 * (1 - 14 / sealed_kPa) - 18.99) / ((2641 / 1557) * (1.204 / 1.2))) * 60;
    const found = (it: Cleaner) => (leakKeeping(it, required, test) ?? Number.NaN) * 6e4;
    expect(found(cleaner) / byHand(22)).toBeCloseTo(1, 1);
    const weaker = weakerThan(cleaner, 0.03, 0.95);
    expect(weaker && found(weaker) / byHand(22 * (1 - 1.645 * 0.03))).toBeCloseTo(1, 1);
    expect(weakerThan(cleaner, 0.49, 0.99)).toBeNull();
  });
});
