import { describe, expect, it } from "vitest";
import { crossedStudy } from "../../../station/quality/measurement-system/crossed-study.ts";
import {
  type Combination,
  estimateOf,
  gaugeAnova,
} from "../../../station/quality/measurement-system/gauge-anova.ts";
import { mlsLimits } from "../../../station/quality/measurement-system/mls-interval.ts";
import { aiagReadings } from "./aiag-gauge-data.ts";

describe("modified large-sample limits", () => {
  it("of one mean square are the exact chi-squared ones", () => {
    const limits = mlsLimits({ error: { meanSquare: 2, degrees: 10 } }, 0.95);
    const { lower, upper } = limits.interval({ error: 1 });
    // scipy.stats.chi2.ppf([0.975, 0.025], 10): 20.483177, 3.246973.
    expect(lower).toBeCloseTo(20 / 20.483177, 6);
    expect(upper).toBeCloseTo(20 / 3.246973, 5);
    expect(limits.interval({ error: 3 }).upper).toBeCloseTo(3 * upper, 9);
  });

  // The limit is made to be zero just where an F test is at its edge: scipy.stats.f.ppf([0.975, 0.025], 9, 18).
  it.each([
    { end: "lower", F: 2.92911249 },
    { end: "upper", F: 0.2701621394 },
  ] as const)("of a difference have zero as their $end end where the F test is at its edge", ({ end, F }) => {
    const limits = mlsLimits(
      { part: { meanSquare: 5 * F, degrees: 9 }, error: { meanSquare: 5, degrees: 18 } },
      0.95,
    );
    expect(limits.interval({ part: 1, error: -1 })[end]).toBeCloseTo(0, 5);
    expect(limits.interval({ part: 1, error: -1 })[end === "lower" ? "upper" : "lower"]).not.toBeCloseTo(
      0,
      1,
    );
  });

  it("of a ratio are exact where above and below are a mean square each", () => {
    const limits = mlsLimits({ a: { meanSquare: 12, degrees: 9 }, b: { meanSquare: 3, degrees: 18 } }, 0.95);
    const ratio = limits.ratio({ a: 1 }, { b: 1 });
    expect(ratio?.lower).toBeCloseTo(4 / 2.92911249, 5);
    expect(ratio?.upper).toBeCloseTo(4 / 0.2701621394, 5);
  });

  it("have no ratio to nothing", () => {
    const limits = mlsLimits({ a: { meanSquare: 12, degrees: 9 }, b: { meanSquare: 0, degrees: 18 } }, 0.95);
    expect(limits.ratio({ a: 1 }, { b: 1 })).toBeNull();
  });
});

describe("the components of a gauge study", () => {
  it.each(["keep", "pool"] as const)("add up to GRR before any is set to zero (%s)", (interaction) => {
    const { combinations, meanSquares } = gaugeAnova(crossedStudy(aiagReadings()), {
      interaction,
      poolAbove: 0.25,
    });
    const value = (combination: Combination | null) =>
      combination ? estimateOf(combination, meanSquares) : 0;
    const { appraiser, interaction: together, repeatability, GRR } = combinations;
    expect(value(GRR)).toBeCloseTo(value(appraiser) + value(together) + value(repeatability), 12);
  });
});
