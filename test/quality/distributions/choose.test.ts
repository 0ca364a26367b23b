import { describe, expect, it } from "vitest";
import { normalQuantile } from "../../../limits/normal.ts";
import {
  chooseDistribution,
  familyOf,
  fitFamily,
  LEAST_P,
} from "../../../station/quality/distributions/choose.ts";
import { SeededRandom } from "../../../station/quality/seeded-random.ts";

/** As regular as values can be, the more skewed the larger sigma. */
function lognormalScores(n: number, sigma: number): number[] {
  return Array.from({ length: n }, (_, k) => 20 * Math.exp(sigma * normalQuantile((k + 0.5) / n)));
}

function drawn(n: number, seed: number): number[] {
  const random = new SeededRandom(seed);
  return Array.from({ length: n }, () => 20 * Math.exp(0.3 * random.normal())).sort((a, b) => a - b);
}

describe("the choice of a distribution", () => {
  it.each([60, 200])("weighs likelihood against parameters by AICc, of %i values", (n) => {
    const values = drawn(n, 3);
    const { candidates } = chooseDistribution(values);
    expect(candidates.length).toBeGreaterThanOrEqual(6);
    for (const { distribution, AICc } of candidates) {
      const k = distribution.family === "shifted-lognormal" ? 3 : 2;
      const { logLikelihood = 0 } = familyOf(distribution.family).fit(values) ?? {};
      // Hurvich and Tsai 1989 (from memory).
      expect(AICc).toBeCloseTo(2 * k - 2 * logLikelihood + (2 * k * (k + 1)) / (n - k - 1), 8);
    }
  });

  it("takes normal first where its AICc is within 2 of the least, and in its place where it is not", () => {
    const seen = { alike: 0, just: 0, apart: 0 };
    for (const sigma of [0.1, 0.145, 0.155, 0.162, 0.17, 0.25]) {
      const { candidates } = chooseDistribution(lognormalScores(60, sigma));
      const least = Math.min(
        ...candidates
          .filter(({ distribution }) => distribution.family !== "shifted-lognormal")
          .map(({ AICc }) => AICc),
      );
      const normal = candidates.find(({ distribution }) => distribution.family === "normal");
      const behind = (normal?.AICc ?? expect.fail("no normal one")) - least;
      expect(candidates[0] === normal, `${behind} behind`).toBe(behind <= 2);
      if (behind > 1.5 && behind <= 2) seen.alike++;
      if (behind > 2 && behind < 2.5) seen.just++;
      if (behind > 4) seen.apart++;
    }
    expect(Math.min(...Object.values(seen))).toBeGreaterThan(0);
  });

  it("keeps the others in order of AICc, and takes the first that is not refused", () => {
    for (let seed = 1; seed <= 12; seed++) {
      const { candidates, chosen } = chooseDistribution(drawn(80, seed));
      const two = candidates.filter(({ distribution }) => distribution.family !== "shifted-lognormal");
      const rest = two.filter(({ distribution }, at) => !(at === 0 && distribution.family === "normal"));
      expect(rest.map(({ AICc }) => AICc)).toEqual(rest.map(({ AICc }) => AICc).sort((a, b) => a - b));
      const tested = candidates.filter(({ goodness }) => goodness !== null);
      expect(candidates.slice(0, tested.length)).toEqual(tested);
      for (const [at, { goodness }] of tested.entries())
        expect((goodness?.p ?? 0) >= LEAST_P).toBe(tested[at] === chosen);
    }
  });

  it("is refused to all where two processes are mixed, and says so by taking none", () => {
    const mixed = [...drawn(100, 1), ...drawn(100, 2).map((value) => value + 200)].sort((a, b) => a - b);
    const { candidates, chosen } = chooseDistribution(mixed);
    expect(chosen).toBeNull();
    expect(candidates.every(({ goodness }) => goodness !== null && goodness.p < LEAST_P)).toBe(true);
  });

  it("names what was not tried for zeros, and tries it where there are none", () => {
    const values = drawn(60, 4);
    expect(chooseDistribution(values).withoutZero).toEqual([]);
    const withZero = chooseDistribution([0, ...values]);
    expect(withZero.withoutZero).toEqual(["lognormal", "Weibull", "gamma"]);
    expect(withZero.candidates.map(({ words }) => words)).not.toContain("Weibull");
  });
});

describe("a distribution that was asked for", () => {
  it("comes with its test, and not at all where zero has no place in it", () => {
    const values = drawn(60, 4);
    const found = fitFamily(values, "weibull") ?? expect.fail("no fit");
    expect(found.goodness?.A2).toBeGreaterThan(0);
    expect(fitFamily([0, ...values], "weibull")).toBeNull();
    expect(fitFamily([0, ...values], "normal")?.distribution.family).toBe("normal");
  });
});
