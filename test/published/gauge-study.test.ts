import { describe, expect, it } from "vitest";
import { crossedStudy } from "../../station/quality/measurement-system/crossed-study.ts";
import {
  type RepeatabilityOptions,
  repeatability,
} from "../../station/quality/measurement-system/repeatability.ts";
import { repeatabilityReport } from "../../station/quality/measurement-system/repeatability-report.ts";
import { aiagReadings } from "../quality/measurement-system/aiag-gauge-data.ts";

function figuresOf(readings: ReturnType<typeof aiagReadings>, options: RepeatabilityOptions) {
  const study = crossedStudy(readings);
  return repeatabilityReport(study, repeatability(study, options)).figures;
}

function expectFigures(figures: ReturnType<typeof figuresOf>, expected: Readonly<Record<string, number>>) {
  for (const [name, value] of Object.entries(expected))
    expect(Math.abs(Number(figures[name]) / value - 1), `${name}: ${String(figures[name])}`).toBeLessThan(
      1e-6,
    );
}

describe("AIAG's 10 x 3 x 3 gauge study", () => {
  // Published in AIAG, Measurement Systems Analysis: EV 0.20188, AV 0.22963, GRR 0.30575, PV 1.10456, TV 1.14610; 17.62, 20.04,
  // 26.68 and 96.38 %; 5 categories. More digits: the manual's formulas and factors in R.
  it("gives the manual's figures by average and range", () => {
    const figures = figuresOf(aiagReadings(), { method: "range" });
    expectFigures(figures, {
      Rbarbar: 0.3416666667,
      Xdiff: 0.4446666667,
      Rp: 3.511111111,
      EV: 0.2018566667,
      AV: 0.2296670291,
      GRR: 0.3057663457,
      PV: 1.104595556,
      TV: 1.146134547,
      pct_EV: 17.61195204,
      pct_AV: 20.03840035,
      pct_GRR: 26.67804984,
      pct_PV: 96.37573168,
      ndc_raw: 5.093692473,
    });
    expect(figures.ndc).toBe(5);
  });

  // Published: variances 0.039973, 0.051455, 1.086446, GRR 27.9 %, 4 categories. More digits: R's aov, and lme4's REML.
  it("gives the manual's figures by analysis of variance, the interaction pooled", () => {
    const figures = figuresOf(aiagReadings(), { method: "anova" });
    expectFigures(figures, {
      SS_part: 88.36193444,
      SS_op: 3.167262222,
      SS_int: 0.3589822222,
      SS_rep: 2.758933333,
      SS_tot: 94.64711222,
      F_int: 0.4337210301,
      p_int: 0.9741064043,
      pooled_MS: 0.03997327635,
      // Published: 245.614 and 39.617, against the pooled mean square (from memory).
      F_part: 88.36193444 / 9 / 0.03997327635,
      F_op: 3.167262222 / 2 / 0.03997327635,
      var_rep: 0.03997327635,
      var_op: 0.05145526116,
      var_part: 1.086446604,
      sd_GRR: 0.3023715223,
      pct_GRR: 27.86065088,
      pct_contrib_GRR: 7.762158675,
      ndc_raw: 4.860516477,
    });
    expect(figures).toMatchObject({ df: [9, 2, 18, 60], interaction: "pooled", ndc: 4 });
  });

  // R's aov, the interaction kept.
  it("gives R's figures with the interaction kept", () => {
    const figures = figuresOf(aiagReadings(), {
      method: "anova",
      rule: { interaction: "keep", poolAbove: 0.25 },
    });
    expectFigures(figures, {
      var_rep: 0.04598222222,
      var_op: 0.05212292181,
      var_part: 1.08867214,
      pct_GRR: 28.75155098,
      // Against the mean square of the interaction.
      F_part: 88.36193444 / 9 / (0.3589822222 / 18),
      F_op: 3.167262222 / 2 / (0.3589822222 / 18),
    });
    expect(figures.var_int).toBe(0);
  });

  // Parts 3 to 10 by A and B: the manual's formulas in R, and R's aov.
  it("gives R's figures of a part of the study by both methods", () => {
    expectFigures(figuresOf(aiagReadings(3, 10, "AB"), { method: "range" }), {
      Rbarbar: 0.348125,
      Xdiff: 0.09041666667,
      Rp: 3.515,
      EV: 0.20567225,
      AV: 0.04821787675,
      GRR: 0.2112487587,
      PV: 1.1863125,
      TV: 1.204974434,
      pct_EV: 17.06859866,
      pct_AV: 4.001568448,
      pct_GRR: 17.53138928,
      pct_PV: 98.45125896,
      ndc_raw: 7.918155994,
    });
    const figures = figuresOf(aiagReadings(3, 10, "AB"), { method: "anova" });
    expectFigures(figures, {
      SS_part: 54.23426458,
      SS_op: 0.09810208333,
      SS_int: 0.1471145833,
      SS_rep: 1.641266667,
      SS_tot: 56.12074792,
      F_int: 0.4097590131,
      p_int: 0.8891007793,
      pooled_MS: 0.04585592949,
      var_rep: 0.04585592949,
      var_op: 0.002176923077,
      var_part: 1.283649359,
      sd_GRR: 0.2191639856,
      pct_GRR: 18.99192079,
      pct_contrib_GRR: 3.606930554,
      ndc_raw: 7.289086888,
    });
    expect(figures.df).toEqual([7, 1, 7, 32]);
  });

  // AIAG, Measurement Systems Analysis, 4th ed.: factors K1, K2, K3 as printed.
  it("works with the factors that the manual prints, for any size", () => {
    expect(figuresOf(aiagReadings(1, 6, "AB"), { method: "range" })).toMatchObject({
      K1: 0.5908,
      K3: 0.3742,
    });
    const printed = "0.7071 0.5231 0.4467 0.4030 0.3742 0.3534 0.3375 0.3249 0.3146".split(" ").map(Number);
    for (const [k, factor] of printed.entries())
      expect(figuresOf(aiagReadings(1, k + 2), { method: "range" }).K3, `${k + 2} parts`).toBe(factor);
  });
});

// NIST/SEMATECH e-Handbook, 2.4.4.4, repeatability of a resistivity probe: five wafers with these sums of squares, 60 degrees of
// freedom each, pool to 0.10290 ohm cm. The readings are made to have these sums: 60 pairs of each wafer.
it("the repeatability of the e-Handbook's gauge study is pooled from its wafers' sums of squares", () => {
  const wafers = { 138: 0.48115, 139: 0.69209, 140: 0.48483, 141: 1.21752, 142: 0.30076 };
  const readings = Object.entries(wafers).flatMap(([part, squares], k) =>
    Array.from({ length: 60 }, (_, day) => {
      const apart = Math.sqrt((2 * squares) / 60);
      return [1, 2].map((trial) => ({
        part,
        appraiser: String(day),
        trial: String(trial),
        value: 95 + 0.7 * k + 0.01 * Math.sin(day) + (trial - 1.5) * apart,
      }));
    }).flat(),
  );
  const figures = figuresOf(readings, { method: "anova", rule: { interaction: "keep", poolAbove: 0.25 } });
  expect(figures.SS_rep).toBeCloseTo(3.17635, 8);
  expect(figures.df).toMatchObject([4, 59, 236, 300]);
  expect(Number(figures.EV).toFixed(5)).toBe("0.10290");
});
