import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { flowRatio, type LeakAir } from "../../../station/measure/study/leak-flow-law.ts";
import type {
  BracketedRuns,
  VolumeRun,
  VolumeStudyOptions,
} from "../../../station/measure/study/volume-slopes.ts";
import {
  type VolumeStudy,
  volumeByAddedVolume,
  volumeByLeak,
} from "../../../station/measure/study/volume-study.ts";

const HOUSE_Pa = 101_325;

interface Course {
  readonly loss_Pa_s: number;
  /** From run to run: slopes differ by this standard deviation. */
  readonly scatter_Pa_s?: number;
  readonly noise_Pa?: number;
  /** Loss that grows by this from one run to the next. */
  readonly drift_Pa_s?: number;
  readonly temperature_K?: number;
  readonly warming_K_s?: number;
}

const CYCLE_s = 110;

/** Straight courses at test pressure with a little heat before; of runs one after the other. */
function setsOf(without: Course, added: Course, { runs = 3, seed = 1 } = {}): BracketedRuns {
  const random = randomStream(seed, "volume runs");
  let number = 0;
  const set = (course: Course): VolumeRun[] =>
    Array.from({ length: runs }, () => {
      const { loss_Pa_s, scatter_Pa_s = 0, noise_Pa = 0, drift_Pa_s = 0 } = course;
      const slope = loss_Pa_s + scatter_Pa_s * random.normal() + drift_Pa_s * number;
      const t_s = Array.from({ length: 1500 }, (_, i) => i * 0.04);
      const started_s = CYCLE_s * number++;
      return {
        started_s,
        t_s,
        pressure_Pa: t_s.map(
          (t) => -8_000 - 900 * Math.exp(-t / 2) + slope * (t - 45) + noise_Pa * random.normal(),
        ),
        ambientPressure_Pa: HOUSE_Pa,
        ambientTemperature_K: (course.temperature_K ?? 293.15) + (course.warming_K_s ?? 0) * started_s,
      };
    });
  return { before: set(without), between: set(added), after: set(without) };
}

const options: VolumeStudyOptions = {
  testPressure_Pa: -8_000,
  from_s: 30,
  gaugeSlopeUncertainty: 0,
  ambientTemperatureUncertainty_K: 0,
  leakKind: "capillary",
};

function found(study: VolumeStudy) {
  if (study.kind !== "found") throw new Error(study.sentence);
  return study;
}

/** m3/s at the house reference of a throughput in Pa.m3/s at 20 degC. */
const flow = (throughput_Pa_m3_s: number) => throughput_Pa_m3_s / HOUSE_Pa;

describe("volume by a calibrated leak", () => {
  // Check values worked out from V = q dt / d(dp), the ideal gas amount balance at fixed volume.
  it.each([
    [40 / 30, 165 / 30, 0.05, 0.012],
    [22 / 20, 97 / 20, 0.045, 0.012],
  ])("losses of %f and %f Pa/s with a leak of %f Pa.m3/s make %f m3", (without, added, q, volume) => {
    const study = found(
      volumeByLeak(
        setsOf({ loss_Pa_s: without }, { loss_Pa_s: added }),
        { leak_m3_s: flow(q), uncertainty_m3_s: 0 },
        options,
      ),
    );
    // Less what the lag of the gas temperature takes, here (0.4 * 2 s * 0.75) of the leak's fading.
    const lag = (0.4 * 2 * 0.75 * (added - without)) / 8_000;
    expect(study.volume_m3 / (1 - lag)).toBeCloseTo(volume, 6);
  });

  it("grows with the temperature the gas has, since the certificate counts the leak at 20 degC", () => {
    const known = { leak_m3_s: flow(0.05), uncertainty_m3_s: 0 };
    const at = (temperature_K: number) =>
      found(
        volumeByLeak(setsOf({ loss_Pa_s: 1, temperature_K }, { loss_Pa_s: 5, temperature_K }), known, {
          ...options,
          leakKind: "orifice",
        }),
      ).volume_m3;
    // Throughput as T, flow through a hole as 1 / sqrt(T).
    expect(at(303.15) / at(293.15)).toBeCloseTo(Math.sqrt(303.15 / 293.15), 6);
  });

  it("drops a drift that goes on evenly from the first run to the last", () => {
    const known = { leak_m3_s: flow(0.05), uncertainty_m3_s: 0 };
    const still = setsOf({ loss_Pa_s: 1 }, { loss_Pa_s: 5 });
    const drifting = setsOf({ loss_Pa_s: 1, drift_Pa_s: 0.01 }, { loss_Pa_s: 5, drift_Pa_s: 0.01 });
    const a = found(volumeByLeak(still, known, options));
    const b = found(volumeByLeak(drifting, known, options));
    expect(b.volume_m3 / a.volume_m3).toBeCloseTo(1, 4);
    expect(b.uncertainty_m3).toBeGreaterThan(2 * a.uncertainty_m3);
  });

  it("covers the true volume with its 95 % interval, over many studies", () => {
    const volume_m3 = 0.0124;
    let covered = 0;
    const studies = 120;
    for (let seed = 1; seed <= studies; seed++) {
      const random = randomStream(seed, "certificate");
      const certified_m3_s = flow(0.05);
      const real_m3_s = certified_m3_s * (1 + 0.0005 * random.normal());
      const loss_Pa_s = 0.1 + (real_m3_s * HOUSE_Pa) / volume_m3;
      const lag = (0.4 * 2 * 0.75 * loss_Pa_s) / 8_000;
      const sets = setsOf(
        { loss_Pa_s: 0.1, scatter_Pa_s: 0.02, noise_Pa: 0.5 },
        { loss_Pa_s: loss_Pa_s * (1 - lag), scatter_Pa_s: 0.02, noise_Pa: 0.5 },
        { seed },
      );
      const study = found(
        volumeByLeak(sets, { leak_m3_s: certified_m3_s, uncertainty_m3_s: 0.0005 * certified_m3_s }, options),
      );
      if (Math.abs(study.volume_m3 - volume_m3) < 1.96 * study.uncertainty_m3) covered++;
    }
    expect(covered / studies).toBeGreaterThan(0.92);
  });

  it("states each part of its uncertainty; a leak of unknown kind is the largest where the pressure differs", () => {
    const sets = setsOf({ loss_Pa_s: 1 }, { loss_Pa_s: 5 });
    const far = { ...options, testPressure_Pa: -10_000, leakKind: "unknown" as const };
    const known = { leak_m3_s: flow(0.05), uncertainty_m3_s: flow(0.0001) };
    const { budget } = found(volumeByLeak(sets, known, far));
    const largest = [...budget].sort((a, b) => b.contribution - a.contribution)[0];
    expect(largest?.component).toBe("leak's flow at this pressure and temperature");
    expect(budget.reduce((sum, { share }) => sum + share, 0)).toBeCloseTo(1, 9);
  });

  it("is not found where the leak does not stand out, and the sentence says what to do", () => {
    const shut = setsOf({ loss_Pa_s: 1, scatter_Pa_s: 0.02 }, { loss_Pa_s: 1, scatter_Pa_s: 0.02 });
    const study = volumeByLeak(shut, { leak_m3_s: flow(0.05), uncertainty_m3_s: 0 }, options);
    expect(study).toMatchObject({ kind: "not found" });
    expect(study.kind === "not found" && study.sentence).toMatch(/does not stand out.*open and connected/);
  });

  it("is not found from single runs, or from runs that end before the gas has settled", () => {
    const known = { leak_m3_s: flow(0.05), uncertainty_m3_s: 0 };
    const single = setsOf({ loss_Pa_s: 1 }, { loss_Pa_s: 5 }, { runs: 1 });
    const pair = setsOf({ loss_Pa_s: 1 }, { loss_Pa_s: 5 });
    expect(volumeByLeak(single, known, options)).toMatchObject({
      sentence: expect.stringMatching(/2 or more/),
    });
    expect(volumeByLeak(pair, known, { ...options, from_s: 59 })).toMatchObject({
      sentence: expect.stringMatching(/watch longer/),
    });
  });
});

describe("volume by an added volume", () => {
  it("follows from how much slower the same leak shows: 12 L and 3 L more lose four fifths", () => {
    const sets = setsOf({ loss_Pa_s: 5 }, { loss_Pa_s: 4 });
    const { volume_m3 } = found(volumeByAddedVolume(sets, { volume_m3: 0.003, uncertainty_m3: 0 }, options));
    expect(volume_m3).toBeCloseTo(0.012, 6);
  });

  it("takes off what the room's warming does to both slopes alike", () => {
    // Gas at 93.3 kPa that warms by 0.1 mK a second gains 0.0318 Pa a second, which under suction looks like a leak.
    const warming_K_s = 1e-4;
    const warm_Pa_s = (93_325 / 293.2) * warming_K_s;
    const sets = setsOf({ loss_Pa_s: 5 + warm_Pa_s, warming_K_s }, { loss_Pa_s: 4 + warm_Pa_s, warming_K_s });
    const study = found(volumeByAddedVolume(sets, { volume_m3: 0.003, uncertainty_m3: 0 }, options));
    expect(study.volume_m3).toBeCloseTo(0.012, 5);
    expect(study.budget.find(({ component }) => component === "room drift")?.contribution).toBeGreaterThan(
      1e-5,
    );
  });

  it("is less sure the smaller the added volume is, and not found where it is lost in the scatter", () => {
    const known = { volume_m3: 0.003, uncertainty_m3: 0 };
    const scatter_Pa_s = 0.01;
    const large = found(
      volumeByAddedVolume(
        setsOf({ loss_Pa_s: 5, scatter_Pa_s }, { loss_Pa_s: 4, scatter_Pa_s }),
        known,
        options,
      ),
    );
    const small = found(
      volumeByAddedVolume(
        setsOf({ loss_Pa_s: 5, scatter_Pa_s }, { loss_Pa_s: 4.8, scatter_Pa_s }),
        { ...known, volume_m3: 0.0005 },
        options,
      ),
    );
    expect(small.uncertainty_m3).toBeGreaterThan(2 * large.uncertainty_m3);
    const lost = setsOf({ loss_Pa_s: 5, scatter_Pa_s }, { loss_Pa_s: 4.99, scatter_Pa_s });
    expect(volumeByAddedVolume(lost, known, options)).toMatchObject({
      kind: "not found",
      sentence: expect.stringMatching(/Add a larger one/),
    });
  });
});

describe("a leak's flow at another pressure or temperature", () => {
  const air = (gauge_Pa: number, temperature_K = 293.15): LeakAir => ({
    gauge_Pa,
    outside_Pa: HOUSE_Pa,
    temperature_K,
  });

  it("through a capillary goes as the difference of the squares of the pressures", () => {
    // (106.325^2 - 101.325^2) / (111.325^2 - 101.325^2), laminar isothermal flow.
    expect(flowRatio("capillary", air(10_000), air(5_000)).ratio).toBeCloseTo(0.4882435928, 9);
    expect(flowRatio("capillary", air(-8_000), air(-4_000)).ratio).toBeCloseTo(
      (101_325 ** 2 - 97_325 ** 2) / (101_325 ** 2 - 93_325 ** 2),
      9,
    );
  });

  it("through a hole goes about as the root of the pressure, and lies above the capillary's at a lower one", () => {
    const { ratio, uncertainty } = flowRatio("orifice", air(-8_000), air(-4_000));
    expect(ratio).toBeGreaterThan(Math.sqrt(0.5));
    expect(ratio).toBeLessThan(1.03 * Math.sqrt(0.5));
    expect(uncertainty).toBe(0);
  });

  it("of an unknown kind lies between, and its uncertainty reaches both", () => {
    const at = (kind: "capillary" | "orifice" | "unknown") => flowRatio(kind, air(-8_000), air(-6_900));
    const { ratio, uncertainty } = at("unknown");
    expect(ratio).toBeGreaterThan(at("capillary").ratio);
    expect(ratio).toBeLessThan(at("orifice").ratio);
    expect(ratio - Math.sqrt(3) * uncertainty).toBeLessThanOrEqual(1.002 * at("capillary").ratio);
    expect(ratio + Math.sqrt(3) * uncertainty).toBeGreaterThanOrEqual(0.998 * at("orifice").ratio);
  });

  it("through a capillary falls with temperature as air gets more viscous and thinner", () => {
    // mu T by Sutherland's formula (US Standard Atmosphere 1976): 0.774 + 1 powers of T near 20 degC.
    const { ratio } = flowRatio("capillary", air(-8_000), air(-8_000, 294.15));
    expect(ratio).toBeCloseTo((293.15 / 294.15) ** 1.774, 5);
  });
});
