import { readFileSync } from "node:fs";
import { resolve } from "node:path";
import { describe, expect, it } from "vitest";
import { readLimitFile } from "../limits/limit-file.ts";
import type { ModelLimits } from "../limits/model.ts";
import { type InForce, type ModelCalibration, NOT_CALIBRATED } from "../station/cycle/attempt.ts";
import { limitWarnings } from "../station/limit-warnings.ts";
import type { SettleCalibration } from "../station/measure/leak/settle-calibration.ts";
import { readStationFile } from "../station/station-file.ts";

const PATH = resolve("sim/demo-station.yaml");
const { knowledge } = readStationFile(PATH, readFileSync(PATH, "utf8"));
const GOOD = readFileSync("test/limits/good.yaml", "utf8");

function tub(...changes: readonly (readonly [from: string, to: string])[]): ModelLimits {
  const text = changes.reduce((before, [from, to]) => {
    if (!before.includes(from)) throw new Error(`The good file has no ${from}.`);
    return before.replace(from, to);
  }, GOOD);
  return readLimitFile("m.yaml", text);
}

function inForce<T>(calibration: T): InForce<T> {
  return { calibration, date: "2026-01-05T05:55:00Z", sha256: "0".repeat(64), file: "settle.json" };
}

/** A stiff body on a quiet gauge. */
const stiff: SettleCalibration = {
  testPressure_Pa: -8_000,
  fill_s: 5.9,
  tau_s: 4,
  tauSpread_s: 0.2,
  heat_Pa: 180,
  heatSpread_Pa: 10,
  slow_Pa: 5,
  slowSpread_Pa: 1,
  slowTau_s: 60,
  background_Pa_s: 0.01,
  backgroundUncertainty_Pa_s: 0.01,
  noise: { white_Pa: 0.5, wander_Pa: 0.2, wanderTau_s: 1 },
  meanCurve: { t_s: [0, 60], pressure_Pa: [180, 0] },
  runs: 12,
  watched_s: 60,
};

function learned(settle: Partial<SettleCalibration> = {}): ModelCalibration {
  return { settle: inForce({ ...stiff, ...settle }), volume: null };
}

const rulesAt = (limits: ModelLimits, calibration: ModelCalibration) =>
  limitWarnings(limits, { knowledge, calibration }).warnings.map(({ rule }) => rule);

const GOOD_EARLY = /early_verdict:\n(?: {6}.*\n)*? {6}false_reject: 0\.1 %/.exec(GOOD)?.[0] ?? "";

const SOON = ["settle: 28 s", "settle: 1 s"] as const;

describe("the limits of a model", () => {
  it("that was learned on a quiet station leave nothing to warn of and nothing unchecked", () => {
    expect(limitWarnings(tub(SOON), { knowledge, calibration: learned() })).toEqual({
      warnings: [],
      not_foreseen: [],
      unchecked: [],
    });
  });

  it("whose body yields are warned of, until it has settled for long", () => {
    const soft = learned({ slow_Pa: 120, slowSpread_Pa: 5 });
    expect(rulesAt(tub(SOON), soft)).toEqual(["deformable vessel"]);
    expect(rulesAt(tub(["settle: 28 s", "settle: 120 s"]), soft)).toEqual([]);
  });

  it("are warned of when the gauge's noise is known to be large", () => {
    const noisy = learned({ noise: { white_Pa: 30, wander_Pa: 0, wanderTau_s: 1 } });
    expect(rulesAt(tub(SOON), noisy)).toEqual(["resolution", "accuracy", "uncertainty"]);
  });

  it("of a model to be fitted that nobody has studied can't be told the accuracy of", () => {
    const { unchecked } = limitWarnings(tub(SOON), { knowledge, calibration: NOT_CALIBRATED });
    expect(unchecked).toEqual(["accuracy", "deformable vessel"]);
  });

  it("that would empty the body are warned of once, and leave nothing to be learned first", () => {
    const gross = tub(SOON, ["upper: 60 mL/min", "upper: 6 L/min"]);
    const { warnings, unchecked } = limitWarnings(gross, { knowledge, calibration: learned() });
    expect(warnings.map(({ rule }) => rule)).toEqual(["pressure change"]);
    expect(unchecked).toEqual([]);
  });

  it("are measured in the volume calibrated, where somebody has", () => {
    // 60 mL/min move 12.4 L by 8.17 Pa/s, and 6 L by 16.9: 800 Pa in 98 or in 47 s.
    const limits = tub(["measure_longest: 10 s", "measure_longest: 60 s"]);
    const volume = inForce({ volume_m3: 0.006, uncertainty_m3: 1e-5 });
    expect(rulesAt(limits, learned())).toEqual([]);
    expect(rulesAt(limits, { ...learned(), volume })).toEqual(["pressure change"]);
  });

  it("are warned of where a fixed timer begins before the heat has faded, and not when it waits", () => {
    const method = [
      "method: { kind: fitted }",
      "method: { kind: slope, subtract_mean_curve: false }",
    ] as const;
    const timer = tub(method, [GOOD_EARLY, "early_verdict: off"]);
    const hasty = tub(method, [GOOD_EARLY, "early_verdict: off"], ["settle: 28 s", "settle: 3 s"]);
    expect(rulesAt(hasty, learned())).toContain("settling");
    expect(rulesAt(timer, learned())).toEqual([]);
  });

  it("count the learned heat in the pressure's change", () => {
    const hot = learned({ heat_Pa: 1_500 });
    expect(rulesAt(tub(SOON), hot)).toContain("pressure change");
    expect(rulesAt(tub(["settle: 28 s", "settle: 12 s"]), hot)).not.toContain("pressure change");
  });

  it("are warned of when an early verdict may leave a value less accurate than the rule asks for", () => {
    const noisy = learned({ noise: { white_Pa: 3, wander_Pa: 0, wanderTau_s: 1 } });
    const { warnings } = limitWarnings(tub(SOON), { knowledge, calibration: noisy });
    expect(warnings.map(({ sentence }) => sentence)).toEqual([
      expect.stringContaining("by an early verdict"),
    ]);
  });
});

describe("a limit that leaves verdicts no room", () => {
  const said = (limits: ModelLimits, settle: Partial<SettleCalibration> = {}) =>
    limitWarnings(limits, { knowledge, calibration: learned(settle) }).warnings;
  const noisy = { noise: { white_Pa: 30, wander_Pa: 0.2, wanderTau_s: 1 } };
  const fixed = [GOOD_EARLY, "early_verdict: off"] as const;
  const measuring = (time_s: number) => ["measure_longest: 10 s", `measure_longest: ${time_s} s`] as const;
  const guardBand = (limits: ModelLimits) => said(limits, noisy).find(({ rule }) => rule === "guard band");

  it("because the measuring time is too short for the guard band is warned of with a time that suffices", () => {
    const short = guardBand(tub(SOON, fixed, measuring(4)));
    expect(short).toMatchObject({ characteristic: "leak rate" });
    const [, enough] = /set measure_longest to (\d+) s or more\.$/.exec(short?.sentence ?? "") ?? [];
    expect(guardBand(tub(SOON, fixed, measuring(Number(enough))))).toBeUndefined();
    expect(guardBand(tub(SOON, fixed, measuring(Number(enough) - 2)))).toBeDefined();
  });

  it("because no early verdict could call a unit tight is warned of", () => {
    const late = said(tub(SOON), { noise: { white_Pa: 28, wander_Pa: 0.2, wanderTau_s: 1 } });
    expect(late.map(({ sentence }) => sentence)).toContainEqual(
      expect.stringMatching(
        /no early verdict calls a unit tight, in 10 s of measuring: set measure_longest to/,
      ),
    );
  });

  it("because the station's flow gauge is not that good is warned of, and a wider one is not", () => {
    const flow = (upper: string) => tub(SOON, ["lower: 49 L/s", `lower: 49 L/s\n    upper: ${upper}`]);
    expect(said(flow("49.6 L/s"))).toEqual([
      {
        characteristic: "open flow",
        rule: "guard band",
        sentence: expect.stringMatching(
          /known to \+- 0\.5\d* L\/s .* no value within the limits is sure enough/,
        ),
      },
    ]);
    expect(said(flow("53 L/s"))).toEqual([]);
  });

  it("takes suction power and efficiency from a body just at its limits", () => {
    const narrow = tub(SOON, ["lower: 240 W", "lower: 240 W\n    upper: 242 W"]);
    expect(said(narrow)).toMatchObject([{ characteristic: "largest suction power", rule: "uncertainty" }]);
  });
});

describe("a body's rating", () => {
  const warned = (change: readonly [from: string, to: string]) =>
    limitWarnings(tub(change), null).warnings.filter(({ rule }) => rule === "rated pressure");
  it("that the fill may go beyond is warned of, and one it just keeps to is not", () => {
    expect(warned(["rated_pressure: -25 kPa", "rated_pressure: -8.1 kPa"])[0]).toMatchObject({
      characteristic: null,
      sentence: expect.stringMatching(/^Step leak may fill to -8\.2 kPa.* rated for -8\.1 kPa/),
    });
    expect(warned(["rated_pressure: -25 kPa", "rated_pressure: -20 kPa"])).toEqual([]);
  });

  it("that a passing unit's own motor goes beyond is warned of", () => {
    expect(warned(["rated_pressure: -25 kPa", "rated_pressure: -19 kPa"])[0]).toMatchObject({
      characteristic: "sealed suction",
      sentence: expect.stringMatching(/passes from 19\.5 kPa of suction on/),
    });
  });
});
