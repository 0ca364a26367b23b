import { describe, expect, it } from "vitest";
import { z } from "zod";
import { normalQuantile } from "../../limits/normal.ts";
import { FAMILY_NAMES, familyOf } from "../../station/quality/distributions/choose.ts";
import type { FamilyName } from "../../station/quality/distributions/distribution.ts";
import { andersonDarling, aSquared } from "../../station/quality/distributions/goodness-of-fit.ts";
import { SeededRandom } from "../../station/quality/seeded-random.ts";
import { askScipy } from "./scipy-distributions.ts";

// An outside check of the fits by maximum likelihood, their percentiles and tails: scipy.stats (Debian's python3-scipy).

const Fit = z.strictObject({
  parameters: z.array(z.number()),
  logLikelihood: z.number(),
  quantiles: z.array(z.number()),
  tails: z.array(z.number()),
  densities: z.array(z.number()),
});

/** Skewed as leak rates are; where the family has it, some at or below zero. */
function leakRates(n: number, seed: number, family: FamilyName): number[] {
  const random = new SeededRandom(seed);
  const shift = familyOf(family).positiveOnly ? 0 : -8;
  return Array.from({ length: n }, () => 9 * Math.exp(0.5 * random.normal()) + shift);
}

const PROBABILITIES = [0.00135, 0.05, 0.5, 0.95, 0.99865];

const BY_LIKELIHOOD = FAMILY_NAMES.filter((name) => name !== "shifted-lognormal");

describe.each(BY_LIKELIHOOD)("the %s distribution against scipy.stats", (name) => {
  const samples = [7, 40, 300].map((n, seed) => leakRates(n, seed + 1, name));
  const x = [0.5, 6, 25];
  const answers = askScipy(
    samples.map((values) => ({ ask: "fit", family: name, values, p: PROBABILITIES, x })),
    Fit,
  );

  it("has its likelihood, percentiles, tails and densities of the same values", () => {
    for (const [k, values] of samples.entries()) {
      const { logLikelihood, distribution } = familyOf(name).fit(values) ?? expect.fail("no fit");
      const theirs = answers[k] ?? expect.fail("no answer");
      expect(logLikelihood).toBeCloseTo(theirs.logLikelihood, 5);
      // Ours is that of n - 1.
      const wider = name === "normal" ? Math.sqrt(values.length / (values.length - 1)) : 1;
      const middle = theirs.quantiles[2] ?? 0;
      for (const [i, p] of PROBABILITIES.entries()) {
        const expected = middle + ((theirs.quantiles[i] ?? 0) - middle) * wider;
        expect(Math.abs(distribution.quantile(p) / expected - 1)).toBeLessThan(2e-4);
        expect(distribution.cdf(distribution.quantile(p))).toBeCloseTo(p, 9);
        expect(distribution.tail(distribution.quantile(p))).toBeCloseTo(1 - p, 9);
      }
      if (name === "normal") continue;
      for (const [i, at] of x.entries()) {
        expect(distribution.tail(at)).toBeCloseTo(theirs.tails[i] ?? 0, 4);
        expect(distribution.density(at)).toBeCloseTo(theirs.densities[i] ?? 0, 4);
      }
    }
  });

  it("draws values that it fits again", () => {
    const random = new SeededRandom(5);
    const { distribution } = familyOf(name).fit(samples[2] ?? []) ?? expect.fail("no fit");
    const drawn = Array.from({ length: 20_000 }, () => distribution.draw(random));
    for (const p of [0.05, 0.5, 0.95]) {
      const share = drawn.filter((value) => value <= distribution.quantile(p)).length / drawn.length;
      expect(Math.abs(share - p)).toBeLessThan(0.008);
    }
  });
});

describe("the shifted lognormal distribution", () => {
  const values = Array.from(
    { length: 400 },
    (_, k) => -8 + 9 * Math.exp(0.5 * normalQuantile((k + 0.5) / 400)),
  );
  const { distribution, logLikelihood } = familyOf("shifted-lognormal").fit(values) ?? expect.fail("no fit");
  const { threshold = 0, mu = 0, sigma = 0 } = distribution.parameters;

  it("is scipy.stats.lognorm's of the same parameters", () => {
    const x = [-7.5, 0.5, 6, 25];
    const [theirs] = askScipy(
      [{ ask: "lognormal", threshold, mu, sigma, p: PROBABILITIES, x, values }],
      Fit.omit({ parameters: true }),
    );
    for (const [i, p] of PROBABILITIES.entries()) {
      expect(distribution.quantile(p)).toBeCloseTo(theirs?.quantiles[i] ?? 0, 9);
      expect(distribution.cdf(distribution.quantile(p))).toBeCloseTo(p, 9);
    }
    for (const [i, at] of x.entries()) {
      expect(distribution.tail(at)).toBeCloseTo(theirs?.tails[i] ?? 9, 9);
      expect(distribution.density(at)).toBeCloseTo(theirs?.densities[i] ?? 9, 9);
    }
    expect(logLikelihood).toBeCloseTo(theirs?.logLikelihood ?? 0, 7);
  });

  it("finds the threshold that the values were made with, wherever their zero and whatever their unit", () => {
    expect(threshold).toBeCloseTo(-8, 0);
    expect(mu).toBeCloseTo(Math.log(9), 1);
    expect(sigma).toBeCloseTo(0.5, 1);
    const moved = familyOf("shifted-lognormal").fit(values.map((value) => 1e5 + 0.01 * value));
    expect(moved?.distribution.quantile(0.99865)).toBeCloseTo(1e5 + 0.01 * distribution.quantile(0.99865), 6);
  });

  it("is not fitted to values that are not skewed to the right", () => {
    expect(familyOf("shifted-lognormal").fit([1, 2, 3, 4, 5])).toBeNull();
    expect(familyOf("shifted-lognormal").fit(values.map((value) => -value))).toBeNull();
    expect(familyOf("shifted-lognormal").fit([2, 2])).toBeNull();
  });
});

describe("Anderson and Darling's A squared", () => {
  it("is scipy.stats.anderson's", () => {
    const values = leakRates(60, 9, "normal").sort((a, b) => a - b);
    const jobs = [
      { ask: "anderson", values, dist: "norm" },
      { ask: "anderson", values, dist: "gumbel_r" },
    ];
    const [normal, extreme] = askScipy(jobs, z.strictObject({ A2: z.number() }));
    const ours = (name: FamilyName) =>
      aSquared(values, familyOf(name).fit(values)?.distribution ?? expect.fail("no fit"));
    expect(ours("normal")).toBeCloseTo(normal?.A2 ?? 0, 8);
    expect(ours("largest-extreme-value")).toBeCloseTo(extreme?.A2 ?? 0, 4);
  });

  // D'Agostino and Stephens 1986, tables 4.7 and 4.17, upper 5 % (from memory): 0.752 for the normal with both parameters fitted,
  // after A2 (1 + 0.75/n + 2.25/n^2); 0.757 for the extreme value and Weibull after A2 (1 + 0.2/sqrt(n)).
  it.each([
    { name: "normal" as const, critical: 0.752 / (1 + 0.75 / 60 + 2.25 / 3600) },
    { name: "lognormal" as const, critical: 0.752 / (1 + 0.75 / 60 + 2.25 / 3600) },
    { name: "weibull" as const, critical: 0.757 / (1 + 0.2 / Math.sqrt(60)) },
    { name: "largest-extreme-value" as const, critical: 0.757 / (1 + 0.2 / Math.sqrt(60)) },
  ])("of $name is exceeded by one in twenty at the published 5 % point", ({ name, critical }) => {
    const family = familyOf(name);
    const { distribution } = family.fit(leakRates(60, 4, name)) ?? expect.fail("no fit");
    // Values whose A squared is just at the published point: mixed from regular ones and a bent scale until it is.
    const regular = Array.from({ length: 60 }, (_, i) => distribution.quantile((i + 0.5) / 60));
    const middle = distribution.quantile(0.5);
    const bent = (by: number) =>
      regular.map((value) => (value < middle ? value : middle + (value - middle) * by)).sort((a, b) => a - b);
    let [low, high] = [1, 20];
    for (let k = 0; k < 60; k++) {
      const by = (low + high) / 2;
      const fit = family.fit(bent(by)) ?? expect.fail("no fit");
      if (aSquared(bent(by), fit.distribution) < critical) low = by;
      else high = by;
    }
    const values = bent(low);
    const fit = family.fit(values) ?? expect.fail("no fit");
    const { A2, p } = andersonDarling(values, family, fit.distribution);
    expect(A2).toBeCloseTo(critical, 6);
    expect(p).toBeGreaterThan(0.033);
    expect(p).toBeLessThan(0.067);
  });
});
