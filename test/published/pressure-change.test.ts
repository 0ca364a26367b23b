import { describe, expect, it } from "vitest";
import { type LeakConditions, measureLeakRate } from "../../station/measure/leak/leak-rate.ts";

/** Conditions under which everything but the decay itself is exactly known. */
function exactConditions(changes: Partial<LeakConditions>): LeakConditions {
  return {
    testPressure_Pa: 10_000,
    volume_m3: 0.012,
    volumeComponents: [],
    fixtureLeakBound_m3_s: 0,
    gaugeSlopeUncertainty: 0,
    ambientPressure_Pa: 101_325,
    ambientTemperature_K: 293.15,
    ambientTemperatureUncertainty_K: 0,
    settle: null,
    fill_s: null,
    ...changes,
  };
}

function decay(from_Pa: number, to_Pa: number, duration_s: number) {
  const n = 101;
  const t_s = Array.from({ length: n }, (_, i) => (duration_s * i) / (n - 1));
  return { t_s, pressure_Pa: t_s.map((t) => from_Pa + ((to_Pa - from_Pa) * t) / duration_s) };
}

/** Throughput in Pa m3/s of the gas at 20 degC: the rate at 20 degC and 101.325 kPa times 101.325 kPa. */
function throughput(conditions: LeakConditions, from_Pa: number, to_Pa: number, duration_s: number): number {
  const method = { kind: "slope", subtractsMeanCurve: false } as const;
  const measured = measureLeakRate(decay(from_Pa, to_Pa, duration_s), method, {
    ...conditions,
    testPressure_Pa: (from_Pa + to_Pa) / 2,
  });
  if (measured.kind !== "measured") throw new Error(measured.kind);
  return measured.leak.value_m3_s * 101_325;
}

describe("leak rate from a pressure change at fixed volume and temperature", () => {
  it("is 0.7228571 Pa m3/s for 40 CFR 1065.644's vacuum-decay example (2.000 L, 25.300 to 50.600 kPa in 70 s, 293.15 K)", () => {
    const conditions = exactConditions({ volume_m3: 2e-3 });
    expect(throughput(conditions, 25_300 - 101_325, 50_600 - 101_325, 70)).toBeCloseTo(0.7228571, 6);
  });

  it("is 2.965705e-4 mol/s for the same example, with its molar gas constant 8.314472", () => {
    const conditions = exactConditions({ volume_m3: 2e-3 });
    const amount_mol_s = throughput(conditions, 25_300 - 101_325, 50_600 - 101_325, 70) / (8.314472 * 293.15);
    expect(amount_mol_s).toBeCloseTo(2.965705e-4, 9);
  });

  // Ideal gas law, computed by hand: V dp/dt.
  it.each([
    { volume_m3: 0.012, from_Pa: 10_000, to_Pa: 9_850, duration_s: 20, q_Pa_m3_s: 0.09 },
    { volume_m3: 0.0124, from_Pa: -10_000, to_Pa: -9_925, duration_s: 15, q_Pa_m3_s: 0.062 },
  ])("is $q_Pa_m3_s Pa m3/s for $volume_m3 m3 from $from_Pa to $to_Pa Pa gauge in $duration_s s", (given) => {
    const conditions = exactConditions({ volume_m3: given.volume_m3 });
    const found = throughput(conditions, given.from_Pa, given.to_Pa, given.duration_s);
    expect(found).toBeCloseTo(given.q_Pa_m3_s, 9);
  });
});
