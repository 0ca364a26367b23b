import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type LeakConditions, measureLeakRate } from "../../../station/measure/leak/leak-rate.ts";

const conditions: LeakConditions = {
  testPressure_Pa: -8_000,
  volume_m3: 0.0128,
  volumeComponents: [
    { component: "unit volume", estimate_m3: 0.0124, uncertainty_m3: 1e-4 },
    { component: "fixture volume", estimate_m3: 4e-4, uncertainty_m3: 1e-5 },
  ],
  fixtureLeakBound_m3_s: 0,
  gaugeSlopeUncertainty: 0.001,
  ambientPressure_Pa: 101_325,
  ambientTemperature_K: 293.15,
  ambientTemperatureUncertainty_K: 0.3,
  settle: null,
  fill_s: null,
};

const SLOPE = { kind: "slope", subtractsMeanCurve: false } as const;

/** Deterministic noise of unit variance, enough for a mean and a spread. */
function noise(seed: number): () => number {
  let state = seed >>> 0 || 1;
  const uniform = () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return state / 2 ** 32;
  };
  return () => Array.from({ length: 12 }, uniform).reduce((a, b) => a + b, 0) - 6;
}

function curve(slope_Pa_s: number, noise_Pa: number, seed: number, from_Pa = -8_000) {
  const next = noise(seed);
  const t_s = Array.from({ length: 400 }, (_, i) => i * 0.02);
  return { t_s, pressure_Pa: t_s.map((t) => from_Pa + slope_Pa_s * t + noise_Pa * next()) };
}

describe("the leak rate", () => {
  it("is positive when an evacuated unit gains pressure and when a pressurised one loses it", () => {
    const evacuated = curve(8, 0.5, 1);
    const pressurised = curve(-8, 0.5, 1, 5_000);
    const inward = measureLeakRate(evacuated, SLOPE, conditions);
    const outward = measureLeakRate(pressurised, SLOPE, {
      ...conditions,
      testPressure_Pa: 5_000,
    });
    expect(inward.kind === "measured" && inward.leak.value_m3_s).toBeGreaterThan(0);
    expect(outward.kind === "measured" && outward.leak.value_m3_s).toBeGreaterThan(0);
  });

  it("covers the true rate with its 95 % interval about as often as it says, or more", () => {
    const trueSlope_Pa_s = 5;
    const perSlope = 0.0128 / 101_325;
    let covered = 0;
    for (let seed = 1; seed <= 400; seed++) {
      const { t_s, pressure_Pa } = curve(trueSlope_Pa_s, 2, seed * 7919);
      const measured = measureLeakRate({ t_s, pressure_Pa }, SLOPE, conditions);
      if (measured.kind !== "measured") continue;
      const { value_m3_s, uncertainty_m3_s } = measured.leak;
      if (Math.abs(value_m3_s - trueSlope_Pa_s * perSlope) <= 1.96 * uncertainty_m3_s) covered++;
    }
    expect(covered / 400).toBeGreaterThan(0.95);
  });

  it("widens its uncertainty when the pressure is still settling", () => {
    const settled = curve(5, 0.5, 3);
    const settling = {
      t_s: settled.t_s,
      pressure_Pa: settled.pressure_Pa.map((p, i) => p + 60 * Math.exp(-(settled.t_s[i] as number) / 3)),
    };
    const certain = measureLeakRate(settled, SLOPE, conditions);
    const doubtful = measureLeakRate(settling, SLOPE, conditions);
    if (certain.kind !== "measured" || doubtful.kind !== "measured") throw new Error("both measure");
    expect(doubtful.leak.uncertainty_m3_s).toBeGreaterThan(3 * certain.leak.uncertainty_m3_s);
  });

  it("is void for a gauge that shows the same value all the time", () => {
    const t_s = Array.from({ length: 100 }, (_, i) => i * 0.02);
    expect(measureLeakRate({ t_s, pressure_Pa: t_s.map(() => -8_000) }, SLOPE, conditions)).toMatchObject({
      kind: "void",
      code: "GAUGE_FROZEN",
    });
  });

  it("is void below 20 samples and measured from 20 on", () => {
    const { t_s, pressure_Pa } = curve(5, 0.5, 1);
    const first = (n: number) =>
      measureLeakRate({ t_s: t_s.slice(0, n), pressure_Pa: pressure_Pa.slice(0, n) }, SLOPE, conditions).kind;
    expect([first(0), first(19), first(20)]).toEqual(["void", "void", "measured"]);
  });

  it("is void when the pressure runs away from ambient, which no leak does", () => {
    const { t_s, pressure_Pa } = curve(-30, 0.5, 1);
    expect(measureLeakRate({ t_s, pressure_Pa }, SLOPE, conditions)).toMatchObject({
      kind: "void",
      code: "NOT_A_LEAK",
    });
  });

  it("is not measured on a body that has emptied: no slope is left, yet nothing leaks more", () => {
    const { t_s, pressure_Pa } = curve(0, 0.5, 1, -20);
    expect(measureLeakRate({ t_s, pressure_Pa }, SLOPE, conditions)).toMatchObject({ kind: "lost" });
  });

  it("is measured down to half of the test pressure, and carried to it with a wider uncertainty", () => {
    const full = curve(5, 0.5, 1, -8_000);
    const half = curve(5, 0.5, 1, -4_100);
    const atFull = measureLeakRate(full, SLOPE, conditions);
    const atHalf = measureLeakRate(half, SLOPE, conditions);
    if (atFull.kind !== "measured" || atHalf.kind !== "measured") throw new Error("both measure");
    // Between an orifice (root of the pressure) and a capillary (in proportion to it).
    expect(atHalf.leak.value_m3_s / atFull.leak.value_m3_s).toBeGreaterThan(2 ** 0.5);
    expect(atHalf.leak.value_m3_s / atFull.leak.value_m3_s).toBeLessThan(2);
    expect(atHalf.leak.uncertainty_m3_s).toBeGreaterThan(3 * atFull.leak.uncertainty_m3_s);
  });

  it.each(["slope", "difference"] as const)("takes no notice of one wild reading anywhere, by %s", (kind) => {
    const method = { kind, subtractsMeanCurve: false } as const;
    const value = (curve: { t_s: number[]; pressure_Pa: number[] }) => {
      const found = measureLeakRate(curve, method, conditions);
      return found.kind === "measured" ? found.leak : Number.NaN;
    };
    const clean = curve(5, 0.5, 1);
    const whole = value(clean);
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 399 }),
        fc.oneof(
          fc.double({ min: 20, max: 5_000, noNaN: true }),
          fc.double({ min: -5_000, max: -20, noNaN: true }),
        ),
        (place, size_Pa) => {
          const pressure_Pa = clean.pressure_Pa.map((p_Pa, i) => (i === place ? p_Pa + size_Pa : p_Pa));
          const spoiled = value({ ...clean, pressure_Pa });
          if (typeof spoiled === "number" || typeof whole === "number") throw new Error("both measure");
          expect(spoiled.how.left_out).toBe(1);
          expect(Math.abs(spoiled.value_m3_s - whole.value_m3_s)).toBeLessThan(0.5 * whole.uncertainty_m3_s);
        },
      ),
    );
  });

  it("scales with the volume and with the slope, whatever they are", () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.5, max: 50, noNaN: true }),
        fc.double({ min: 1e-3, max: 0.05, noNaN: true }),
        (slope, volume_m3) => {
          const { t_s, pressure_Pa } = curve(slope, 0, 1);
          const exact = { ...conditions, testPressure_Pa: -8_000 + slope * 3.99 };
          const measured = measureLeakRate({ t_s, pressure_Pa }, SLOPE, { ...exact, volume_m3 });
          if (measured.kind !== "measured") throw new Error(measured.kind);
          expect(measured.leak.value_m3_s / ((slope * volume_m3) / 101_325)).toBeCloseTo(1, 6);
        },
      ),
    );
  });
});
