import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { fixedTimes } from "../../../station/measure/study/fixed-timer-times.ts";
import {
  type LearnedSettling,
  learnSettling,
  type SettleStudy,
  type WatchedDecay,
} from "../../../station/measure/study/settle-study.ts";

/** A body as the model sees it, and the gauge on it. */
interface Truth {
  readonly rest_Pa: number;
  readonly slope_Pa_s: number;
  readonly tau_s: number;
  readonly heat_Pa: number;
  readonly slow_Pa: number;
  readonly slowTau_s: number;
  readonly white_Pa: number;
  readonly wander_Pa: number;
  readonly wanderTau_s: number;
  readonly watch_s: number;
  readonly samplesPer_s: number;
}

const tub: Truth = {
  rest_Pa: -6_900,
  slope_Pa_s: 0.02,
  tau_s: 3.7,
  heat_Pa: -1_080,
  slow_Pa: -5.6,
  slowTau_s: 15,
  white_Pa: 0.6,
  wander_Pa: 0.25,
  wanderTau_s: 0.5,
  watch_s: 60,
  samplesPer_s: 25,
};

function runOf(truth: Truth, seed: number, extra: (t_s: number) => number = () => 0): WatchedDecay {
  const random = randomStream(seed, "settle run");
  const t_s: number[] = [];
  const pressure_Pa: number[] = [];
  let wander = truth.wander_Pa * random.normal();
  let last_s = 0;
  for (let i = 0; i <= truth.watch_s * truth.samplesPer_s; i++) {
    const t = (i + 0.3 * random.uniform()) / truth.samplesPer_s;
    const keeps = Math.exp(-(t - last_s) / truth.wanderTau_s);
    wander = wander * keeps + truth.wander_Pa * Math.sqrt(1 - keeps * keeps) * random.normal();
    last_s = t;
    t_s.push(t);
    pressure_Pa.push(
      truth.rest_Pa +
        truth.slope_Pa_s * t +
        truth.heat_Pa * Math.exp(-t / truth.tau_s) +
        truth.slow_Pa * Math.exp(-t / truth.slowTau_s) +
        wander +
        truth.white_Pa * random.normal() +
        extra(t),
    );
  }
  return { fill_s: 5.9, t_s, pressure_Pa };
}

function runsOf(truth: Truth, count: number, seed = 1, extra?: (t_s: number) => number): WatchedDecay[] {
  return Array.from({ length: count }, (_, k) => runOf(truth, 100 * seed + k, extra));
}

const options = {
  testPressure_Pa: -8_000,
  unitSpread: { tau: 0.08, heat: 0.05, slow: 0.25 },
  pieceLoss_Pa_s: 0,
  roomDrift_Pa_s: 0.05,
};

function learned(study: SettleStudy): LearnedSettling {
  if (study.kind !== "learned") throw new Error(study.sentence);
  return study;
}

describe("what runs on the tight reference piece teach", () => {
  it("is each parameter of the curve, near enough to the truth", () => {
    const { calibration, cautions } = learned(learnSettling(runsOf(tub, 5), options));
    expect(calibration.tau_s).toBeCloseTo(3.7, 1);
    expect(Math.abs(calibration.heat_Pa + 1080)).toBeLessThan(6);
    expect(Math.abs(calibration.slow_Pa + 5.6)).toBeLessThan(4);
    expect(calibration.slowTau_s).toBeGreaterThan(7);
    expect(calibration.slowTau_s).toBeLessThan(25);
    expect(Math.abs(calibration.background_Pa_s - 0.02)).toBeLessThan(
      2 * calibration.backgroundUncertainty_Pa_s,
    );
    expect(calibration.noise.white_Pa).toBeCloseTo(0.6, 1);
    expect(calibration.noise.wander_Pa).toBeGreaterThan(0.2);
    expect(calibration.noise.wander_Pa).toBeLessThan(0.32);
    expect(calibration).toMatchObject({ testPressure_Pa: -8000, fill_s: 5.9, runs: 5 });
    expect(calibration.watched_s).toBeCloseTo(60, 1);
    expect(cautions).toEqual([]);
  });

  it("holds over bodies, gauges and watching times of all kinds", () => {
    const body = fc.record({
      sign: fc.constantFrom(-1, 1),
      tau_s: fc.double({ min: 1, max: 8, noNaN: true }),
      heat_Pa: fc.double({ min: 100, max: 2_000, noNaN: true }),
      slow: fc.constantFrom(0, 0.05),
      noise_Pa: fc.double({ min: 0.05, max: 1, noNaN: true }),
      seed: fc.integer({ min: 1, max: 1e6 }),
    });
    fc.assert(
      fc.property(body, ({ sign, tau_s, heat_Pa, slow, noise_Pa, seed }) => {
        const truth: Truth = {
          ...tub,
          rest_Pa: sign * 5_000,
          tau_s,
          heat_Pa: sign * heat_Pa,
          slow_Pa: sign * heat_Pa * slow,
          slowTau_s: 5 * tau_s,
          white_Pa: noise_Pa,
          wander_Pa: noise_Pa / 3,
          watch_s: 20 * tau_s,
          samplesPer_s: 1_000 / (20 * tau_s),
        };
        const study = learnSettling(runsOf(truth, 5, seed), { ...options, testPressure_Pa: sign * 6_000 });
        const { calibration: found } = learned(study);
        // Every spread holds the truth; between units, five of them do so by far.
        expect(Math.abs(found.tau_s - tau_s)).toBeLessThan(2 * found.tauSpread_s);
        expect(Math.abs(found.heat_Pa - truth.heat_Pa)).toBeLessThan(2 * found.heatSpread_Pa);
        expect(Math.abs(found.slow_Pa - truth.slow_Pa)).toBeLessThan(4 * found.slowSpread_Pa);
        const background_Pa_s = -sign * truth.slope_Pa_s;
        expect(Math.abs(found.background_Pa_s - background_Pa_s)).toBeLessThan(
          4 * found.backgroundUncertainty_Pa_s,
        );
        if (found.slow_Pa !== 0) expect(found.slowTau_s).toBeGreaterThan(1.6 * found.tau_s);
      }),
      { numRuns: 15, seed: 4 },
    );
  });

  it("covers the true background with its 95 % interval, over many studies", () => {
    let covered = 0;
    const studies = 25;
    for (let seed = 1; seed <= studies; seed++) {
      const truth = { ...tub, watch_s: 40, samplesPer_s: 15 };
      const quiet = { ...options, roomDrift_Pa_s: 0 };
      const { calibration } = learned(learnSettling(runsOf(truth, 5, seed), quiet));
      const error_Pa_s = calibration.background_Pa_s - truth.slope_Pa_s;
      if (Math.abs(error_Pa_s) < 1.96 * calibration.backgroundUncertainty_Pa_s) covered++;
    }
    expect(covered / studies).toBeGreaterThan(0.85);
  });

  it("says of a slow part that can't be seen that it is zero, and how much may be hidden", () => {
    const truth = { ...tub, slow_Pa: 0 };
    const { calibration } = learned(learnSettling(runsOf(truth, 5), options));
    expect(calibration.slow_Pa).toBe(0);
    expect(calibration.slowSpread_Pa).toBeGreaterThan(0.3);
    expect(calibration.slowSpread_Pa).toBeLessThan(4);
    expect(calibration.slowTau_s).toBeCloseTo(4 * calibration.tau_s, 6);
  });

  it("takes the stated spread between units for the least there is, and adds what the runs show", () => {
    const spread = { tau: 0.2, heat: 0.1, slow: 0.5 };
    const steady = learned(learnSettling(runsOf(tub, 5), { ...options, unitSpread: spread })).calibration;
    // The piece is one body itself: a unit differs from it by the root of two of what bodies differ by.
    expect(steady.tauSpread_s).toBeGreaterThanOrEqual(Math.SQRT2 * 0.2 * steady.tau_s);
    expect(steady.tauSpread_s).toBeLessThan(1.03 * Math.SQRT2 * 0.2 * steady.tau_s);
    const uneven = [0.8, 0.9, 1, 1.1, 1.2].map((factor, k) =>
      runOf({ ...tub, heat_Pa: factor * tub.heat_Pa }, k + 1),
    );
    const shown = learned(learnSettling(uneven, options));
    expect(shown.runToRun.heat_Pa).toBeGreaterThan(150);
    expect(shown.calibration.heatSpread_Pa).toBeGreaterThan(shown.runToRun.heat_Pa);
    expect(shown.cautions.join()).toMatch(/The runs differ.*rest longer/);
  });

  it("is no surer of the background than runs that differ allow", () => {
    const uneven = [0, 0.1, 0.2, 0.3, 0.4].map((slope_Pa_s, k) => runOf({ ...tub, slope_Pa_s }, k + 1));
    const { calibration } = learned(learnSettling(uneven, { ...options, roomDrift_Pa_s: 0 }));
    // 0.158 Pa/s from run to run, a mean of five, widened for being known from five (JCGM 101:2008, 6.4.9.4).
    expect(calibration.backgroundUncertainty_Pa_s).toBeCloseTo((0.158 / Math.sqrt(5)) * Math.sqrt(2), 1);
    expect(calibration.backgroundUncertainty_Pa_s).toBeGreaterThan(0.09);
  });

  it("takes the piece's own certified leak off the background", () => {
    const off = learned(learnSettling(runsOf(tub, 5), { ...options, pieceLoss_Pa_s: 0.5 })).calibration;
    const whole = learned(learnSettling(runsOf(tub, 5), options)).calibration;
    expect(whole.background_Pa_s - off.background_Pa_s).toBeCloseTo(0.5, 9);
  });

  it("counts a loss of pressure as positive under pressure and under suction", () => {
    const pressurised = { ...tub, rest_Pa: 4_200, heat_Pa: 800, slow_Pa: 2, slope_Pa_s: -0.5 };
    const under = { ...options, testPressure_Pa: 5_000 };
    expect(learned(learnSettling(runsOf(pressurised, 5), under)).calibration.background_Pa_s).toBeCloseTo(
      0.5,
      1,
    );
    const evacuated = { ...tub, slope_Pa_s: 0.5 };
    expect(learned(learnSettling(runsOf(evacuated, 5), options)).calibration.background_Pa_s).toBeCloseTo(
      0.5,
      1,
    );
  });

  it("is not moved by a wild reading in each run", () => {
    const wild = runsOf(tub, 5).map((run, k) => ({
      ...run,
      pressure_Pa: Array.from(run.pressure_Pa).map((p, i) => (i === 350 + 40 * k ? p + 5_000 : p)),
    }));
    const clean = learned(learnSettling(runsOf(tub, 5), options)).calibration;
    const found = learned(learnSettling(wild, options)).calibration;
    expect(found.heat_Pa).toBeCloseTo(clean.heat_Pa, 0);
    expect(found.noise.white_Pa).toBeCloseTo(clean.noise.white_Pa, 1);
  });

  it("gives the mean curve: the runs' course to their end, read linearly between its knots", () => {
    const { calibration } = learned(learnSettling(runsOf(tub, 5), options));
    const { t_s, pressure_Pa } = calibration.meanCurve;
    expect(t_s).toHaveLength(150);
    expect(t_s[0]).toBe(0);
    expect(t_s.at(-1)).toBeCloseTo(60, 1);
    expect(pressure_Pa.at(-1)).toBe(0);
    const course = (t: number) =>
      tub.slope_Pa_s * t +
      tub.heat_Pa * Math.exp(-t / tub.tau_s) +
      tub.slow_Pa * Math.exp(-t / tub.slowTau_s);
    let squares = 0;
    for (let t = 1; t < 59; t += 0.1) {
      const k = t_s.findIndex((knot) => knot > t);
      const [t0, t1] = [t_s[k - 1] ?? 0, t_s[k] ?? 1];
      const [p0, p1] = [pressure_Pa[k - 1] ?? 0, pressure_Pa[k] ?? 0];
      const read = p0 + ((p1 - p0) * (t - t0)) / (t1 - t0);
      squares += (read - (course(t) - course(60))) ** 2;
    }
    expect(Math.sqrt(squares / 580)).toBeLessThan(0.35);
  });

  it("warns of a body that settles as no gas and slow part do", () => {
    const stranger = runsOf(tub, 5, 1, (t) => 60 * Math.exp(-(((t - 12) / 4) ** 2)));
    expect(learned(learnSettling(stranger, options)).cautions.join()).toMatch(/leaves a pattern/);
  });
});

describe("runs that teach nothing", () => {
  it.each([
    ["too few runs", runsOf(tub, 3), /make 4 or more/],
    ["runs watched too briefly", runsOf({ ...tub, watch_s: 12 }, 5), /watch for 2\d s or longer/],
    ["runs with hardly a reading", runsOf({ ...tub, samplesPer_s: 2 }, 5), /only 1\d\d readings/],
    ["a body without heat", runsOf({ ...tub, heat_Pa: 0, slow_Pa: 0, slope_Pa_s: 0 }, 5), /no heat/],
  ])("%s: the sentence says what to do", (_, runs, words) => {
    const study = learnSettling(runs, options);
    expect(study).toMatchObject({ kind: "not learned" });
    expect(study.kind === "not learned" && study.sentence).toMatch(words);
  });
});

describe("times for a fixed timer", () => {
  it("leave a twentieth of the limit to heat and slow part, and as much to the noise", () => {
    const { calibration } = learned(learnSettling(runsOf(tub, 5), options));
    const limit_Pa_s = 8.44;
    const { settle_s, measure_s } = fixedTimes(calibration, limit_Pa_s, 0.02);
    const drift = (t: number) =>
      (1080 / 3.7) * Math.exp(-t / 3.7) +
      (Math.abs(calibration.slow_Pa) / calibration.slowTau_s) * Math.exp(-t / calibration.slowTau_s);
    expect(drift(settle_s)).toBeLessThan(limit_Pa_s / 20);
    expect(drift(settle_s - 1)).toBeGreaterThan(limit_Pa_s / 20);
    expect(measure_s).toBeGreaterThan(1);
    expect(measure_s).toBeLessThan(8);
  });
});
