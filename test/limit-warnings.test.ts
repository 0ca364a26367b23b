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
    expect(rulesAt(tub(SOON), noisy)).toEqual(["resolution", "accuracy"]);
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
