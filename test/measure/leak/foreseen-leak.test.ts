import { describe, expect, it } from "vitest";
import { type ForeseenStep, foreseeLeak } from "../../../station/measure/leak/foreseen-leak.ts";
import type { LeakConditions } from "../../../station/measure/leak/leak-rate.ts";
import type { SettleCalibration } from "../../../station/measure/leak/settle-calibration.ts";

const mLmin = 1e-6 / 60;
const limit_m3_s = 60 * mLmin;

const step: ForeseenStep = {
  testPressure_Pa: -8_000,
  settle_s: 28,
  measureLongest_s: 10,
  method: { kind: "slope", subtractsMeanCurve: false },
};

const fitted: ForeseenStep = { ...step, settle_s: 0, method: { kind: "fitted" } };

/** Everything certain, so that what the gauge leaves stands alone; 12 L in all. */
const certain: LeakConditions = {
  testPressure_Pa: -8_000,
  volume_m3: 0.012,
  volumeComponents: [],
  fixtureLeakBound_m3_s: 0,
  gaugeSlopeUncertainty: 0,
  ambientPressure_Pa: 101_325,
  ambientTemperature_K: 293.15,
  ambientTemperatureUncertainty_K: 0,
  settle: null,
  fill_s: null,
};

const calibration: SettleCalibration = {
  testPressure_Pa: -8_000,
  fill_s: 5.9,
  tau_s: 4,
  tauSpread_s: 0.3,
  heat_Pa: 180,
  heatSpread_Pa: 20,
  slow_Pa: 40,
  slowSpread_Pa: 8,
  slowTau_s: 60,
  background_Pa_s: 0,
  backgroundUncertainty_Pa_s: 0,
  noise: { white_Pa: 0.5, wander_Pa: 0, wanderTau_s: 1 },
  meanCurve: { t_s: [0, 60], pressure_Pa: [0, 0] },
  runs: 12,
  watched_s: 60,
};

const learned = (known: Partial<SettleCalibration> = {}): LeakConditions => ({
  ...certain,
  settle: { ...calibration, ...known },
});

const asLeak_m3 = 0.012 / 101_325;

describe("the resolution foreseen", () => {
  it("before the noise is learned is that of two readings with the gauge's uncertainty", () => {
    const { resolution_m3_s, resolutionFrom } = foreseeLeak(limit_m3_s, step, certain, 2);
    expect(resolution_m3_s / asLeak_m3).toBeCloseTo((2 * Math.SQRT2) / 10, 12);
    expect(resolutionFrom).toBe("stated uncertainty");
  });

  it("of a regression slope is that of a line through white noise", () => {
    // Draper and Smith, 1.4: deviation / sqrt(sum of squares); n even readings over T have T^2 n (n + 1) / (12 (n - 1)).
    const squares = (10 ** 2 * 20 * 21) / (12 * 19);
    const { resolution_m3_s, resolutionFrom } = foreseeLeak(limit_m3_s, step, learned(), 2);
    expect(resolution_m3_s / asLeak_m3).toBeCloseTo(0.5 / Math.sqrt(squares), 12);
    expect(resolutionFrom).toBe("learned noise");
  });

  it("of a difference is that of its two ends, less what both share", () => {
    const difference: ForeseenStep = { ...step, method: { kind: "difference", subtractsMeanCurve: true } };
    const noise = { white_Pa: 0.3, wander_Pa: 0.4, wanderTau_s: 20 };
    const { resolution_m3_s } = foreseeLeak(limit_m3_s, difference, learned({ noise }), 2);
    const variance = 2 * (0.3 ** 2 + 0.4 ** 2 * (1 - Math.exp(-10 / 20)));
    expect(resolution_m3_s / asLeak_m3).toBeCloseTo(Math.sqrt(variance) / 10, 12);
  });

  it("of a fit pays for the heat it fits beside the leak, and less when more is known of the body", () => {
    const of = (known: Partial<SettleCalibration>) =>
      foreseeLeak(limit_m3_s, fitted, learned(known), 2).resolution_m3_s;
    const line = foreseeLeak(limit_m3_s, step, learned(), 2).resolution_m3_s;
    expect(of({})).toBeGreaterThan(1.5 * line);
    expect(of({ tauSpread_s: 0.03, heatSpread_Pa: 2, slowSpread_Pa: 0.8 })).toBeLessThan(0.7 * of({}));
  });
});

describe("the accuracy foreseen", () => {
  it("is the whole budget of a leak at the limit and what the gauge leaves, k = 2", () => {
    const uncertain = { ...certain, gaugeSlopeUncertainty: 0.1 };
    const { resolution_m3_s, expandedUncertainty_m3_s } = foreseeLeak(limit_m3_s, step, uncertain, 2);
    const atLeast = 2 * Math.hypot(resolution_m3_s, 0.1 * limit_m3_s);
    expect(expandedUncertainty_m3_s).toBeGreaterThan(0.95 * atLeast);
    // Beside it only the drifts of room and barometer, some 2 mL/min together.
    expect(expandedUncertainty_m3_s).toBeLessThan(atLeast + 2 * mLmin);
  });

  it("takes in what a fixed timer leaves of the settling, and a longer timer leaves less", () => {
    const settledFor = (settle_s: number) =>
      foreseeLeak(limit_m3_s, { ...step, settle_s }, learned(), 2).expandedUncertainty_m3_s ?? Number.NaN;
    expect(settledFor(5)).toBeGreaterThan(3 * settledFor(28));
  });

  it("counts the noise of a fit once", () => {
    const { resolution_m3_s, expandedUncertainty_m3_s } = foreseeLeak(
      limit_m3_s,
      fitted,
      learned({ noise: { white_Pa: 20, wander_Pa: 0, wanderTau_s: 1 } }),
      2,
    );
    expect(expandedUncertainty_m3_s).toBeGreaterThan(2 * resolution_m3_s);
    expect(expandedUncertainty_m3_s).toBeLessThan(2.1 * resolution_m3_s);
  });

  it("is nearly the same for pressure and for suction", () => {
    const inward = foreseeLeak(limit_m3_s, step, certain, 2).expandedUncertainty_m3_s;
    const outward = foreseeLeak(
      limit_m3_s,
      { ...step, testPressure_Pa: 8_000 },
      { ...certain, testPressure_Pa: 8_000 },
      2,
    ).expandedUncertainty_m3_s;
    // More gas in the body feels the room's drift more.
    expect((outward ?? 0) / (inward ?? 0)).toBeGreaterThan(1);
    expect((outward ?? 0) / (inward ?? 0)).toBeLessThan(1.2);
  });

  it.each([
    ["for a leak that empties the body while it is measured", 100 * limit_m3_s, step],
    ["for a fit before the body was studied", limit_m3_s, fitted],
  ])("is not foreseen %s", (_, leak_m3_s, how) => {
    expect(foreseeLeak(leak_m3_s, how, certain, 2).expandedUncertainty_m3_s).toBeNull();
  });
});

describe("the slow drift foreseen", () => {
  it("is what the slow part still moves in the measuring time, as a leak rate", () => {
    const { slowDrift_m3_s } = foreseeLeak(limit_m3_s, step, learned(), 2);
    const moved_Pa = 40 * (Math.exp(-28 / 60) - Math.exp(-38 / 60));
    expect((slowDrift_m3_s ?? 0) / asLeak_m3).toBeCloseTo(moved_Pa / 10, 12);
  });

  it("is not known before the body was studied", () => {
    expect(foreseeLeak(limit_m3_s, step, certain, 2).slowDrift_m3_s).toBeNull();
  });
});

describe("the settling foreseen", () => {
  it("is what heat and slow part still change in the measuring time", () => {
    const of = (how: ForeseenStep) => foreseeLeak(limit_m3_s, how, learned(), 2);
    const heat_Pa = 180 * (1 - Math.exp(-10 / 4));
    const slow_Pa = 40 * (1 - Math.exp(-10 / 60));
    expect(of(fitted)).toMatchObject({ isFitted: true, heatDrift_m3_s: null });
    expect(of(fitted).settlingChange_Pa).toBeCloseTo(heat_Pa + slow_Pa, 9);
    expect(of({ ...step, settle_s: 0 })).toMatchObject({ isFitted: false });
    expect((of({ ...step, settle_s: 0 }).heatDrift_m3_s ?? 0) / asLeak_m3).toBeCloseTo(heat_Pa / 10, 9);
  });

  it("has no heat that reads as a leak where the mean curve is taken off, or nobody knows it", () => {
    const taken: ForeseenStep = { ...step, settle_s: 0, method: { kind: "slope", subtractsMeanCurve: true } };
    expect(foreseeLeak(limit_m3_s, taken, learned(), 2).heatDrift_m3_s).toBeNull();
    const unknown = foreseeLeak(limit_m3_s, { ...step, settle_s: 0 }, certain, 2);
    expect(unknown).toMatchObject({ heatDrift_m3_s: null, settlingChange_Pa: null });
  });
});
