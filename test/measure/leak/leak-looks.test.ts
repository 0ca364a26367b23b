import { beforeAll, describe, expect, it } from "vitest";
import { bodyDesign } from "../../../sim/bodies.ts";
import { LeakLooks } from "../../../station/measure/leak/leak-looks.ts";
import type { LeakConditions } from "../../../station/measure/leak/leak-rate.ts";
import type { SettleCalibration } from "../../../station/measure/leak/settle-calibration.ts";
import { learnSettling } from "../../../station/measure/study/settle-study.ts";
import { type WatchedCurve, watchBody } from "./leak-plant.ts";

const MODEL = "TUB-12";
const LIMIT_m3_s = 60e-6 / 60;
const rule = { measureShortest_s: 2, lookEvery_s: 0.25, falseAccept: 5e-4, falseReject: 5e-4 };
const SETTLE_s = 0.3;
const LONGEST_s = 12;

let settle: SettleCalibration;

beforeAll(() => {
  const design = bodyDesign(MODEL);
  const runs = [1, 2, 3, 4, 5].map((seed) => watchBody({ model: MODEL, seed, leak_m3_s: 0, watch_s: 60 }));
  const study = learnSettling(runs, {
    testPressure_Pa: design.leakPressure_Pa,
    unitSpread: { tau: 0.08, heat: 0.05, slow: 0.25 },
    pieceLoss_Pa_s: 0,
    roomDrift_Pa_s: 0.03,
  });
  if (study.kind !== "learned") throw new Error(study.sentence);
  settle = study.calibration;
});

function conditions(): LeakConditions {
  return {
    testPressure_Pa: -8_000,
    volume_m3: 0.0124,
    volumeComponents: [{ component: "volume", estimate_m3: 0.0124, uncertainty_m3: 1e-4 }],
    fixtureLeakBound_m3_s: 0,
    gaugeSlopeUncertainty: 0.001,
    ambientPressure_Pa: 101_325,
    ambientTemperature_K: 293.15,
    ambientTemperatureUncertainty_K: 0.3,
    settle,
    fill_s: null,
  };
}

/** The looks a station would take, as it would: every quarter of a second of the measuring time, until one is certain. */
function lookUntilCertain(
  curve: WatchedCurve,
  limits: { lower?: number; upper?: number } = { upper: LIMIT_m3_s },
) {
  const looks = new LeakLooks({
    limits: [limits],
    rule,
    measureLongest_s: LONGEST_s,
    method: { kind: "fitted" },
    conditions: conditions(),
  });
  const first = curve.t_s.findIndex((t_s) => t_s >= SETTLE_s);
  for (let elapsed_s = rule.measureShortest_s; elapsed_s < LONGEST_s; elapsed_s += rule.lookEvery_s) {
    const end = curve.t_s.findIndex((t_s) => t_s > SETTLE_s + elapsed_s);
    const part = { t_s: curve.t_s.slice(first, end), pressure_Pa: curve.pressure_Pa.slice(first, end) };
    const decision = looks.take(part, elapsed_s);
    if (decision) return { elapsed_s, decision };
  }
  return null;
}

function watched(ratio: number, seed: number): WatchedCurve {
  return watchBody({
    model: MODEL,
    seed,
    leak_m3_s: ratio * LIMIT_m3_s,
    watch_s: SETTLE_s + LONGEST_s + 0.1,
  });
}

describe("looks at a growing leak curve", () => {
  it("are certain of a usual good unit within half of the longest time, and by more than the boundary asks", () => {
    for (let seed = 10; seed < 20; seed++) {
      const found = lookUntilCertain(watched(0.15, seed));
      expect(found?.elapsed_s).toBeLessThan(8);
      expect(found?.decision.distance).toBeGreaterThanOrEqual(found?.decision.boundary ?? Number.NaN);
      expect(found?.decision.boundary).toBeGreaterThan(2.5);
    }
  });

  it("are certain of a unit ten times over its limit sooner than of one just over it", () => {
    const far = lookUntilCertain(watched(10, 31));
    const near = lookUntilCertain(watched(1.25, 31));
    expect(far?.elapsed_s).toBeLessThan(near?.elapsed_s ?? Number.POSITIVE_INFINITY);
  });

  it("never end for a unit at its limit more often than the risks allow", () => {
    // 2 x 0.05 % of 200 units: one would be a surprise, three a fault.
    let ended = 0;
    for (let seed = 100; seed < 300; seed++) if (lookUntilCertain(watched(1, seed))) ended++;
    expect(ended).toBeLessThan(3);
  });

  it("say nothing while the settling is not as learned, and so leave the verdict to the end", () => {
    const knocked = watchBody({
      model: MODEL,
      seed: 5,
      leak_m3_s: 0,
      watch_s: 13,
      disturbance_Pa: (t_s) => (t_s > 1 && Math.floor(t_s * 2) % 2 === 0 ? 40 : 0),
    });
    expect(lookUntilCertain(knocked)).toBeNull();
  });

  it("end at once for a body that has emptied", () => {
    const emptied = watched(0, 3);
    const curve = { ...emptied, pressure_Pa: emptied.pressure_Pa.map((p_Pa) => p_Pa * 0.2) };
    expect(lookUntilCertain(curve)).toEqual({ elapsed_s: rule.measureShortest_s, decision: {} });
  });

  it("hold a unit against a lower limit too", () => {
    const limits = { lower: 0.5 * LIMIT_m3_s, upper: 2 * LIMIT_m3_s };
    expect(lookUntilCertain(watched(0.05, 8), limits)).not.toBeNull();
  });
});
