import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type CapabilitySettings, capability } from "../../../station/quality/capability/capability.ts";
import { capabilityReport } from "../../../station/quality/capability/capability-report.ts";
import { LEAST_FOR_PERCENTILES } from "../../../station/quality/capability/empirical-indices.ts";
import { normalIndices } from "../../../station/quality/capability/normal-indices.ts";
import { bareIndices, percentileIndices } from "../../../station/quality/capability/percentile-indices.ts";
import { stabilityOfSubgroups } from "../../../station/quality/capability/stability.ts";
import { withinByMovingRange, withinBySubgroups } from "../../../station/quality/capability/within-sigma.ts";
import { familyOf } from "../../../station/quality/distributions/choose.ts";
import { sampleOf } from "../../../station/quality/sample.ts";
import { SeededRandom } from "../../../station/quality/seeded-random.ts";
import { type Figure, NoStudy } from "../../../station/quality/study-report.ts";

const AUTO: CapabilitySettings = { distribution: "auto", within: null };

/** Skewed to the right, as leak rates are; median 20. */
function leakRates(n: number, seed = 1): number[] {
  const random = new SeededRandom(seed);
  return Array.from({ length: n }, () => 20 * Math.exp(0.4 * random.normal()));
}

function normalValues(n: number, seed = 1): number[] {
  const random = new SeededRandom(seed);
  return Array.from({ length: n }, () => 16 + 2 * random.normal());
}

function study(values: readonly number[], settings: Partial<CapabilitySettings>) {
  const all = { ...AUTO, ...settings };
  const found = capability({ values }, all);
  return { found, report: capabilityReport({ values }, all, found) };
}

describe("skewed leak rates", () => {
  const { found, report } = study(leakRates(300), { upper: 60 });

  it("are judged by percentiles of a lognormal distribution, and fall short where a normal one would pass them", () => {
    expect(found.chosen?.distribution.family).toBe("lognormal");
    expect(found.method).toBe("fitted percentiles");
    // True: (60 - 20) / (20 exp(1.2) - 20) = 0.862.
    expect(found.performance?.k.value).toBeCloseTo(0.862, 1);
    expect(found.normal.k.value).toBeGreaterThan(1.15);
    expect(report.answer).toBe("no");
  });

  it("have an interval around the true index, and a true share beyond the limit", () => {
    const [low, high] = found.performance?.k.interval ?? expect.fail("no interval");
    expect(low).toBeLessThan(0.862);
    expect(high).toBeGreaterThan(0.862);
    // 1 - Phi(ln(3) / 0.4)
    expect((found.above?.expected ?? 0) * 1e6).toBeGreaterThan(3013 / 2);
    expect((found.above?.expected ?? 0) * 1e6).toBeLessThan(3013 * 2);
  });

  it("have no Cp and no Pp with one limit, and a null in their place", () => {
    expect(report.figures).toMatchObject({ Cp: null, Pp: null, Ppl: null, LSL: null });
    expect(report.figures.Ppk).toBe(report.figures.Ppu);
  });
});

describe("skewed leak rates by a gauge that scatters about zero, some of them negative", () => {
  function skewed(n: number): number[] {
    const random = new SeededRandom(5);
    return Array.from({ length: n }, () => 20 * Math.exp(0.7 * random.normal()) - 12);
  }

  it("are judged by a shifted lognormal distribution", () => {
    const { found, report } = study(skewed(400), { upper: 150 });
    expect(found.nonPositive).toBeGreaterThan(10);
    expect(found.chosen?.distribution.family).toBe("shifted-lognormal");
    // True: (150 - 8) / (20 exp(2.1) - 20) = 0.991.
    const [low = 9, high = 0] = found.performance?.k.interval ?? [];
    expect(low).toBeLessThan(0.991);
    expect(high).toBeGreaterThan(0.991);
    expect(report.answer).toBe("no");
    expect(report.figures).toMatchObject({ distribution: "shifted-lognormal" });
  });

  it("are not, from fewer than 50 values, fitted by three parameters", () => {
    const { found } = study(skewed(49), { upper: 48 });
    expect(found.choice?.candidates.map(({ distribution }) => distribution.family)).not.toContain(
      "shifted-lognormal",
    );
  });

  it("take it last: no third parameter where two will do", () => {
    expect(study(leakRates(400), { upper: 60 }).found.choice?.candidates.at(-1)?.words).toBe(
      "shifted lognormal",
    );
  });
});

describe("the parts of an index", () => {
  const lognormal = familyOf("lognormal").fit(leakRates(400))?.distribution ?? expect.fail("no fit");

  it("by percentiles: each limit has the percentile on its own side", () => {
    const percentiles = { low: 2, median: 5, high: 17 };
    const { p, l, u } = bareIndices(percentiles, { lower: 1, upper: 20 });
    expect(p).toBeCloseTo(19 / 15, 12);
    expect(l).toBeCloseTo(4 / 3, 12);
    expect(u).toBeCloseTo(15 / 12, 12);
  });

  it("by percentiles of many values: the interval is half as wide of four times as many", () => {
    const width = (n: number) => {
      const [low = 1, high = 1] = percentileIndices(lognormal, n, { upper: 60 })?.k.interval ?? [];
      return Math.log(high / low);
    };
    expect(width(2000) / width(500)).toBeCloseTo(0.5, 12);
  });

  it("by percentiles of a median beyond the limit: below zero, between the ends of its interval", () => {
    const { value = 9, interval } = percentileIndices(lognormal, 100, { upper: 12 })?.k ?? {};
    expect(value).toBeLessThan(0);
    expect(interval?.[0]).toBeLessThan(value);
    expect(interval?.[1]).toBeGreaterThan(value);
  });

  it("by subgroups pooled: squares and degrees of freedom are summed", () => {
    expect(withinBySubgroups([[1, 2, 3], [4, 6], [9]], "pooled")).toEqual({
      sigma: Math.sqrt(4 / 3),
      method: "pooled",
      df: 3,
    });
  });

  it("by moving ranges: as many degrees of freedom as their mean has by drawing", () => {
    const random = new SeededRandom(11);
    const sigmas = Array.from({ length: 20_000 }, () => {
      return withinByMovingRange(Array.from({ length: 21 }, () => random.normal())).sigma;
    });
    const { mean, s } = sampleOf(sigmas);
    expect(mean).toBeCloseTo(1, 2);
    const df = 0.5 / (s / mean) ** 2 + 0.25;
    expect(Math.abs(withinByMovingRange([1, 2, ...new Array<number>(19).fill(3)]).df / df - 1)).toBeLessThan(
      0.05,
    );
  });
});

describe("values at and below zero", () => {
  it("leave lognormal, Weibull and gamma out, and say so", () => {
    const values = normalValues(120).map((value) => value - 16);
    const { found, report } = study(values, { upper: 10 });
    expect(found.choice?.candidates.map((it) => it.distribution.family)).not.toContain("gamma");
    expect(report.notes.join(" ")).toContain("lognormal, Weibull, gamma have no place for them");
    expect(found.performance?.k.value).toBeGreaterThan(1);
  });

  it("are refused for a distribution above zero that was asked for", () => {
    expect(() => study([0, 1, 2, 3, 4, 5], { upper: 9, distribution: "gamma" })).toThrow(
      /gamma distribution has no place for zero/,
    );
  });
});

describe("what no distribution describes", () => {
  const mixed = (n: number) => [...normalValues(n), ...normalValues(n, 2).map((value) => value + 20)];

  it("has no index where the values are too few to go by themselves", () => {
    const { found, report } = study(mixed(100), { upper: 60 });
    expect(found.performance).toBeNull();
    expect(report.answer).toBe("none");
    expect(report.figures.Ppk).toBeNull();
  });

  it("is not capable all the same where too many lie beyond the limit", () => {
    expect(study(mixed(100), { upper: 37 }).report.answer).toBe("no");
  });

  it("is judged by the values' own percentiles where there are 2,731 and more", () => {
    expect(LEAST_FOR_PERCENTILES).toBe(2731);
    const { found } = study(mixed(1400), { upper: 60 });
    expect(found.method).toBe("empirical percentiles");
    const [low, high] = found.performance?.k.interval ?? expect.fail("no interval");
    expect(low).toBeLessThan(found.performance?.k.value ?? 0);
    expect(high).toBeGreaterThan(found.performance?.k.value ?? 0);
  });
});

describe("whether a process stays where it is", () => {
  it("is denied for one that drifts, and its yes is taken back", () => {
    const values = normalValues(100).map((value, i) => value + i / 20);
    const { found, report } = study(values, { lower: -20, upper: 60 });
    expect(found.stability?.inControl).toBe(false);
    expect(report.answer).toBe("marginal");
    expect(report.conclusion).toContain("did not stay where it was");
  });

  it("is granted to most that do", () => {
    const denied = Array.from({ length: 25 }, (_, k) =>
      study(normalValues(60, k), { lower: 0, upper: 40 }),
    ).filter(({ found }) => found.stability?.inControl === false);
    expect(denied.length).toBeLessThan(4);
  });
});

it("the bootstrap interval of a normal distribution's Pp is that by chi-squared", () => {
  const values = normalValues(40);
  const fit = familyOf("normal").fit(values) ?? expect.fail("no fit");
  const { mean = 0, s = 1 } = fit.distribution.parameters;
  const limits = { lower: 8, upper: 24 };
  const exact = normalIndices({ mean, sigma: s, n: 40, df: 39 }, limits).p?.interval;
  const bootstrap = percentileIndices(fit.distribution, 40, limits)?.p?.interval;
  for (const end of [0, 1] as const)
    expect(Math.abs((bootstrap?.[end] ?? 0) / (exact?.[end] ?? 1) - 1)).toBeLessThan(0.03);
});

describe("refusals", () => {
  it.each([
    { values: [1, 2], settings: { upper: 3 }, says: /can't be judged by 2 values/ },
    { values: [3, 3, 3, 3, 3, 3], settings: { upper: 4 }, says: /All 6 values are 3/ },
    { values: [1, 2, 3, 4, 5], settings: {}, says: /give --lower, --upper or both/ },
    { values: [1, 2, 3, 4, 5], settings: { lower: 4, upper: 4 }, says: /not below the upper limit/ },
    { values: [1, 2, 3, 4, 1e200], settings: { upper: 4 }, says: /another unit/ },
  ])("say what is missing: $says", ({ values, settings, says }) => {
    expect(() => study(values, settings)).toThrow(says);
    expect(() => study(values, settings)).toThrow(NoStudy);
  });

  it("too little data gives figures and no answer", () => {
    const { report } = study(normalValues(12), { upper: 100 });
    expect(report.answer).toBe("none");
    expect(report.conclusion).toContain("Too little data");
  });
});

describe("for any values", () => {
  const values = fc.array(
    fc.oneof(
      fc.double({ noNaN: true, noDefaultInfinity: true }),
      fc.integer({ min: -3, max: 20 }),
      fc.double({ min: 0, max: 50, noNaN: true }),
    ),
    { minLength: 1, maxLength: 25 },
  );

  it("there are finite figures, or a refusal in one sentence", () => {
    fc.assert(
      fc.property(values, fc.double({ min: -1e3, max: 1e3, noNaN: true }), (drawn, upper) => {
        try {
          const { report } = study(drawn, { lower: upper - 7, upper });
          expect(notNumbers(report.figures)).toEqual([]);
          for (const { series } of report.charts)
            for (const { points } of series)
              for (const point of points) expect(point.every(Number.isFinite)).toBe(true);
        } catch (error) {
          if (!(error instanceof NoStudy)) throw error;
          expect(error.message).toMatch(/\.$/);
        }
      }),
      { numRuns: 40 },
    );
  });

  it("another unit changes no index, another order none of overall performance", () => {
    const seeds = fc.record({ seed: fc.nat(1000), scale: fc.double({ min: 1e-9, max: 1e6, noNaN: true }) });
    fc.assert(
      fc.property(seeds, ({ seed, scale }) => {
        const one = leakRates(40, seed);
        const { performance, chosen, short } = study(one, { lower: 1, upper: 70 }).found;
        const scaled = study(
          one.map((value) => value * scale),
          { lower: scale, upper: 70 * scale },
        ).found;
        expect(scaled.chosen?.distribution.family).toBe(chosen?.distribution.family);
        // Of some sets every family is refused: then there is no index in either unit.
        const ratio = (a: number | undefined, b: number | undefined) =>
          a === undefined && b === undefined ? 1 : (a ?? 0) / (b ?? 1);
        for (const of of ["p", "l", "u", "k"] as const) {
          expect(ratio(scaled.performance?.[of]?.value, performance?.[of]?.value)).toBeCloseTo(1, 6);
          expect(ratio(scaled.short?.[of]?.value, short?.[of]?.value)).toBeCloseTo(1, 9);
        }
        const turned = study(one.toReversed(), { lower: 1, upper: 70 }).found;
        expect(turned.performance).toEqual(performance);
      }),
      { numRuns: 3 },
    );
  });

  it("adding a constant to values and limits changes no index of a normal distribution", () => {
    const normal = { distribution: "normal" } as const;
    const one = normalValues(50);
    const before = study(one, { ...normal, lower: 8, upper: 24 }).found.performance;
    fc.assert(
      fc.property(fc.double({ min: -1e4, max: 1e4, noNaN: true }), (shift) => {
        const moved = one.map((value) => value + shift);
        const after = study(moved, { ...normal, lower: 8 + shift, upper: 24 + shift }).found.performance;
        expect(after?.k.value).toBeCloseTo(before?.k.value ?? 0, 8);
        expect(after?.p?.value).toBeCloseTo(before?.p?.value ?? 0, 8);
      }),
      { numRuns: 5 },
    );
  });
});

/** Names of figures that are numbers and not finite. */
function notNumbers(figure: Figure, name = ""): string[] {
  if (typeof figure === "number") return Number.isFinite(figure) ? [] : [name];
  if (figure === null || typeof figure !== "object") return [];
  return Object.entries(figure).flatMap(([key, inner]) => notNumbers(inner, `${name}.${key}`));
}

describe("the stability of subgroups of four, sigma 1, limits 1.5 from the grand mean", () => {
  const apart = Math.sqrt(1.5);
  const subgroups = (means: readonly number[]) =>
    means.map((mean) => [mean - apart, mean, mean, mean + apart]);

  it("is denied where two of 25 means lie beyond, though the subgroups do not differ in all", () => {
    const means = Array.from({ length: 25 }, (_, k) => (k === 7 ? 1.6 : k === 19 ? -1.6 : 0));
    const found = stabilityOfSubgroups(subgroups(means), 1);
    expect(found).toMatchObject({ outside: 2, points: 25, inControl: false });
    expect(found.drift_p).toBeGreaterThan(0.5);
    expect(found.expectedOutside).toBeCloseTo(0.0675, 12);
  });

  it("is granted where one of five does: chance has that in more than one of a hundred", () => {
    expect(stabilityOfSubgroups(subgroups([0, 0, 1.9, 0, 0]), 1)).toMatchObject({
      outside: 1,
      inControl: true,
    });
  });
});
