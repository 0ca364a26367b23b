import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { lackOfFit } from "../../../station/measure/fit/lack-of-fit.ts";
import { type DecayKnowledge, fitDecay } from "../../../station/measure/leak/decay-fit.ts";
import { drawnCurve, evenTimes, KNOWLEDGE, unevenTimes, vague } from "./model-curve.ts";

const STEADY = { pressureExponent: 0 };
/** Below this the station says that the model does not fit. */
const THRESHOLD = 1e-4;

function whiteNoise(n: number, seed: number): Float64Array {
  const random = randomStream(seed, "residuals");
  return Float64Array.from({ length: n }, () => random.normal());
}

function chancesOf(draws: number, draw: (seed: number) => number): number[] {
  return Array.from({ length: draws }, (_, seed) => draw(seed));
}

function partBelow(chances: readonly number[], level: number): number {
  return chances.filter((chance) => chance < level).length / chances.length;
}

describe("the lack-of-fit test on noise alone", () => {
  it.each([
    [60, 20_000],
    [150, 20_000],
    [1500, 4000],
  ])("gives each chance as often as it says, of %i residuals", (n, draws) => {
    const random = randomStream(n, "off");
    const chances = chancesOf(
      draws,
      (seed) =>
        lackOfFit(whiteNoise(n, n + seed), [random.normal(), random.normal(), random.normal()], 0)
          .probability,
    );
    // Noise that looks larger by chance is believed, which makes the test a little shy of an alarm.
    for (const level of [0.1, 0.01, 0.001]) {
      expect(partBelow(chances, level) / level).toBeLessThan(level < 0.01 ? 1.6 : 1.15);
      expect(partBelow(chances, level) / level).toBeGreaterThan(0.5);
    }
    expect(partBelow(chances, THRESHOLD)).toBeLessThan(6 * THRESHOLD);
  });

  it("measures the noise from neighbour to neighbour, whatever the pattern", () => {
    const residuals = whiteNoise(2000, 1).map((value, i) => 1.5 * value + 20 * Math.sin(i / 400));
    expect(lackOfFit(residuals, [], 0).noiseRatio).toBeCloseTo(1.5, 1);
  });
});

describe("the lack-of-fit test after a fit of the right model", () => {
  it.each([
    ["3 s", evenTimes(150), KNOWLEDGE],
    ["10 s, uneven", unevenTimes(500, randomStream(1, "times")), KNOWLEDGE],
    ["10 s, little known", evenTimes(500), vague(KNOWLEDGE, 10)],
    ["30 s", evenTimes(1500), KNOWLEDGE],
  ] as const)("raises few false alarms: %s", (_, t_s, knowledge) => {
    const chances = chancesOf(
      1000,
      (seed) => fitDecay(drawnCurve(t_s, knowledge, 1.4, seed), knowledge, STEADY).fitProbability,
    );
    expect(partBelow(chances, 0.1)).toBeLessThan(0.13);
    expect(partBelow(chances, 0.1)).toBeGreaterThan(0.02);
    expect(partBelow(chances, 0.01)).toBeLessThan(0.02);
    expect(partBelow(chances, THRESHOLD)).toBeLessThan(0.002);
  });
});

describe("the lack-of-fit test on what the model does not know", () => {
  function alarms(
    t_s: readonly number[],
    extra_Pa: (t_s: number) => number,
    knowledge: DecayKnowledge = KNOWLEDGE,
  ) {
    const chances = chancesOf(100, (seed) => {
      const curve = drawnCurve(t_s, knowledge, 1.4, seed);
      const spoilt = { t_s, pressure_Pa: curve.pressure_Pa.map((p, i) => p + extra_Pa(t_s[i] ?? 0)) };
      return fitDecay(spoilt, knowledge, STEADY).fitProbability;
    });
    return partBelow(chances, THRESHOLD);
  }
  const t_s = evenTimes(750);

  it("sees a second relaxation, of half the gas's size or a twelfth of it", () => {
    expect(alarms(t_s, (t) => 150 * Math.exp(-t / 3))).toBe(1);
    expect(alarms(t_s, (t) => 25 * Math.exp(-t / 0.5))).toBeGreaterThan(0.95);
  });

  it("sees a knock that shifts the pressure by six times the noise, early or late", () => {
    expect(alarms(t_s, (t) => (t > 3 ? 4 : 0))).toBeGreaterThan(0.95);
    expect(alarms(t_s, (t) => (t > 12 ? 4 : 0))).toBeGreaterThan(0.95);
  });

  it("sees a draught that comes and goes", () => {
    expect(alarms(t_s, (t) => 2.5 * Math.sin(t / 0.8))).toBeGreaterThan(0.95);
  });

  it("sees a drift that bends", () => {
    expect(alarms(evenTimes(1500), (t) => 0.03 * t * t)).toBeGreaterThan(0.95);
  });

  it("sees a body that is far from all that were calibrated, though its curve has the right shape", () => {
    const other = { ...KNOWLEDGE, tau_s: KNOWLEDGE.tau_s + 8 * KNOWLEDGE.tauSpread_s };
    const chances = chancesOf(
      50,
      (seed) => fitDecay(drawnCurve(t_s, other, 1.4, seed), KNOWLEDGE, STEADY).fitProbability,
    );
    expect(partBelow(chances, THRESHOLD)).toBe(1);
  });
});
