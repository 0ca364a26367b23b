import { beforeAll, describe, expect, it } from "vitest";
import { bodyDesign } from "../../../sim/bodies.ts";
import { estimateGrossLeak } from "../../../station/measure/leak/gross-leak.ts";
import { LeakLooks } from "../../../station/measure/leak/leak-looks.ts";
import { type LeakConditions, measureLeakRate } from "../../../station/measure/leak/leak-rate.ts";
import type { SettleCalibration } from "../../../station/measure/leak/settle-calibration.ts";
import { learnSettling } from "../../../station/measure/study/settle-study.ts";
import { LEAK_GAUGE, type WatchedCurve, watchBody } from "./leak-plant.ts";

const MODEL = "TUB-12";
const LIMIT_m3_s = 60e-6 / 60;
const FITTED = { kind: "fitted" } as const;
const LESS_MEAN = { kind: "slope", subtractsMeanCurve: true } as const;

let settle: SettleCalibration;

beforeAll(() => {
  const runs = [1, 2, 3, 4, 5].map((seed) => watchBody({ model: MODEL, seed, leak_m3_s: 0, watch_s: 60 }));
  const study = learnSettling(runs, {
    testPressure_Pa: bodyDesign(MODEL).leakPressure_Pa,
    unitSpread: { tau: 0.08, heat: 0.05, slow: 0.25 },
    pieceLoss_Pa_s: 0,
    roomDrift_Pa_s: 0.03,
  });
  if (study.kind !== "learned") throw new Error(study.sentence);
  settle = study.calibration;
});

function conditions(changes: Partial<LeakConditions> = {}): LeakConditions {
  return {
    testPressure_Pa: -8_000,
    volume_m3: 0.0124,
    volumeComponents: [],
    fixtureLeakBound_m3_s: 0,
    gaugeSlopeUncertainty: 0,
    ambientPressure_Pa: 101_325,
    ambientTemperature_K: 293.15,
    ambientTemperatureUncertainty_K: 0,
    settle,
    fill_s: null,
    ...changes,
  };
}

function from(curve: WatchedCurve, from_s: number): WatchedCurve {
  const first = curve.t_s.findIndex((t_s) => t_s >= from_s);
  return { ...curve, t_s: curve.t_s.slice(first), pressure_Pa: curve.pressure_Pa.slice(first) };
}

/** A curve on which something else than a leak happens, from 0.3 s on. */
function disturbed(disturbance_Pa: (t_s: number) => number, leak = 0.3): WatchedCurve {
  return from(
    watchBody({ model: MODEL, seed: 3, leak_m3_s: leak * LIMIT_m3_s, watch_s: 12, disturbance_Pa }),
    0.3,
  );
}

describe("a fitted leak rate", () => {
  it("is not given where the pressure did not settle as learned", () => {
    const knocked = disturbed((t_s) => (t_s > 4 ? 25 : 0));
    expect(measureLeakRate(knocked, FITTED, conditions())).toMatchObject({
      kind: "void",
      code: "MODEL_DOES_NOT_FIT",
    });
    expect(
      measureLeakRate(
        disturbed(() => 0),
        FITTED,
        conditions(),
      ).kind,
    ).toBe("measured");
  });

  it("is not given where the first half leaked and the second did not", () => {
    const closing = disturbed((t_s) => 25 * Math.min(t_s, 4), 0);
    expect(measureLeakRate(closing, FITTED, conditions()).kind).toBe("void");
  });

  it("is not given by a gauge many times noisier than the calibrated one", () => {
    const gauge = {
      ...LEAK_GAUGE,
      white: 6 * LEAK_GAUGE.white,
      correlated: 6 * (LEAK_GAUGE.correlated ?? 0),
    };
    const noisy = from(watchBody({ model: MODEL, seed: 4, leak_m3_s: 0, watch_s: 12, gauge }), 0.3);
    expect(measureLeakRate(noisy, FITTED, conditions()).kind).toBe("void");
  });

  it("is less sure of the heat the more its fill differed from the learned one", () => {
    const early = from(watchBody({ model: MODEL, seed: 5, leak_m3_s: 0, watch_s: 4 }), 0.3);
    const uncertainty = (fill_s: number | null) => {
      const found = measureLeakRate(early, FITTED, conditions({ fill_s }));
      return found.kind === "measured" ? found.leak.uncertainty_m3_s : Number.NaN;
    };
    expect(uncertainty(settle.fill_s)).toBe(uncertainty(null));
    expect(uncertainty(1.3 * settle.fill_s)).toBeGreaterThan(1.05 * uncertainty(null));
  });

  it("has the fixture's own loss taken off once, by either method that knows it", () => {
    const leaky = { ...settle, background_Pa_s: settle.background_Pa_s + 3 };
    const still = from(watchBody({ model: MODEL, seed: 6, leak_m3_s: LIMIT_m3_s, watch_s: 40 }), 25);
    const value = (method: typeof FITTED | typeof LESS_MEAN, knowledge: SettleCalibration) => {
      const found = measureLeakRate(still, method, conditions({ settle: knowledge }));
      return found.kind === "measured" ? found.leak.value_m3_s : Number.NaN;
    };
    const taken_m3_s = (3 * 0.0124) / 101_325;
    expect((value(FITTED, settle) - value(FITTED, leaky)) / taken_m3_s).toBeCloseTo(1, 6);
    // The mean curve holds it already.
    expect(value(LESS_MEAN, leaky)).toBe(value(LESS_MEAN, settle));
  });
});

describe("a look that is still vague", () => {
  const order = () => ({
    limits: [{ upper: LIMIT_m3_s }],
    // So generous that nothing but the vagueness holds a verdict back.
    rule: { measureShortest_s: 1, lookEvery_s: 0.25, falseAccept: 0.3, falseReject: 0.3 },
    measureLongest_s: 12,
    method: FITTED,
    conditions: conditions(),
  });
  const lookAt = (curve: WatchedCurve, elapsed_s: number) => {
    const end = curve.t_s.findIndex((t_s) => t_s > 0.3 + elapsed_s);
    return new LeakLooks(order()).take(
      { t_s: curve.t_s.slice(0, end), pressure_Pa: curve.pressure_Pa.slice(0, end) },
      elapsed_s,
    );
  };
  const watched = (ratio: number) =>
    from(watchBody({ model: MODEL, seed: 8, leak_m3_s: ratio * LIMIT_m3_s, watch_s: 13 }), 0.3);

  it("calls no unit tight, however low it reads", () => {
    // 80 times the limit's slope the other way: as tight as can be read.
    const tight = watched(0);
    const lucky = {
      ...tight,
      pressure_Pa: tight.pressure_Pa.map((p, i) => p - 8 * (tight.t_s[i] as number)),
    };
    expect(lookAt(lucky, 3)).toBeNull();
    expect(lookAt(lucky, 5.5)).toBeNull();
    expect(lookAt(watched(0), 10)).not.toBeNull();
  });

  it("fails a unit that is obviously over its limit, and no other", () => {
    expect(lookAt(watched(20), 3)).toMatchObject({ boundary: 6 });
    expect(lookAt(watched(1.5), 3)).toBeNull();
  });
});

describe("the estimate of a gross leak", () => {
  it("leaves the heat of the fill out", () => {
    // A tight body moves by its heat alone: by some 290 Pa/s, as a leak of 2 L/min would.
    const tight = watchBody({ model: MODEL, seed: 9, leak_m3_s: 0, watch_s: 1 });
    const known = estimateGrossLeak(tight, conditions()) ?? Number.NaN;
    const unknown = estimateGrossLeak(tight, conditions({ settle: null })) ?? Number.NaN;
    expect(unknown).toBeGreaterThan(20 * LIMIT_m3_s);
    expect(known).toBeLessThan(0.25 * unknown);
  });
});
