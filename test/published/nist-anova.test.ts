import { describe, expect, it } from "vitest";
import { z } from "zod";
import { brownForsythe } from "../../station/quality/comparison/equal-variances.ts";
import { oneWayAnova } from "../../station/quality/comparison/one-way-anova.ts";
import {
  studentizedRangeCdf,
  studentizedRangeQuantile,
} from "../../station/quality/comparison/studentized-range.ts";
import { welchAnova } from "../../station/quality/comparison/welch-anova.ts";
import { askScipy } from "./scipy-distributions.ts";

// NIST Statistical Reference Datasets (itl.nist.gov/div898/strd), one-way analysis of variance: data and certified values.

const SIRSTV = [
  [196.3052, 196.124, 196.189, 196.2569, 196.3403],
  [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
  [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
  [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
  [196.2119, 196.1051, 196.185, 196.0052, 196.209],
];

/** Seven leading digits are the same: of the difference of two such numbers in binary nine digits are left. */
const ATMWTAG = [
  [
    107.8681568, 107.8681465, 107.8681572, 107.8681785, 107.8681446, 107.8681903, 107.8681526, 107.8681494,
    107.8681616, 107.8681587, 107.8681519, 107.8681486, 107.8681419, 107.8681569, 107.8681508, 107.8681672,
    107.8681385, 107.8681518, 107.8681662, 107.8681424, 107.868136, 107.8681333, 107.868161, 107.8681477,
  ],
  [
    107.8681079, 107.8681344, 107.8681513, 107.8681197, 107.8681604, 107.8681385, 107.8681642, 107.8681365,
    107.8681151, 107.8681082, 107.8681517, 107.8681448, 107.8681198, 107.8681482, 107.8681334, 107.8681609,
    107.8681101, 107.8681512, 107.8681469, 107.868136, 107.8681254, 107.8681261, 107.868145, 107.8681368,
  ],
];

const CERTIFIED = [
  {
    name: "SiRstv",
    groups: SIRSTV,
    digits: 11,
    df: [4, 20],
    values: {
      SS_between: 5.11462616e-2,
      SS_within: 2.1663656e-1,
      F: 1.18046237440255,
      R2: 1.90999039051129e-1,
      s_res: 1.04076068334656e-1,
    },
  },
  {
    name: "AtmWtAg",
    groups: ATMWTAG,
    digits: 9,
    df: [1, 46],
    values: {
      SS_between: 3.638341875e-9,
      SS_within: 1.04951729166667e-8,
      F: 15.946733567793,
      R2: 2.57426544538321e-1,
      s_res: 1.5104831444641e-5,
    },
  },
] as const;

describe.each(CERTIFIED)("the one-way analysis of NIST StRD $name", ({ groups, digits, df, values }) => {
  const found = oneWayAnova(groups) ?? expect.fail("no analysis");

  it("has its degrees of freedom", () => {
    expect([found.df_between, found.df_within]).toEqual(df);
  });

  it.each(Object.entries(values))(
    `has the certified %s, %d, to the digits that binary leaves`,
    (name, certified) => {
      const off = Math.abs(found[name as keyof typeof values] / certified - 1);
      expect(-Math.log10(Math.max(off, 1e-16))).toBeGreaterThan(digits);
    },
  );
});

describe("comparisons against scipy.stats", () => {
  const groups = [
    [21.4, 19.8, 23.1, 20.7, 22.2],
    [24.9, 30.3, 18.6, 33.5],
    [20.1, 20.4, 19.7, 20.9, 20.2, 20.0, 26.5],
  ];
  const [anova, levene, welch] = askScipy(
    [
      { ask: "anova", groups },
      { ask: "levene", groups },
      { ask: "welch", groups: groups.slice(0, 2) },
    ],
    z.strictObject({ F: z.number().optional(), t: z.number().optional(), p: z.number() }),
  );

  it("f_oneway has the same F and p", () => {
    const ours = oneWayAnova(groups);
    expect(ours?.F).toBeCloseTo(anova?.F ?? 0, 9);
    expect(ours?.p).toBeCloseTo(anova?.p ?? 0, 9);
  });

  it("levene about the medians has the same F and p", () => {
    const ours = brownForsythe(groups);
    expect(ours?.F).toBeCloseTo(levene?.F ?? 0, 9);
    expect(ours?.p).toBeCloseTo(levene?.p ?? 0, 9);
  });

  it("ttest_ind without equal variances is Welch's test of two groups: F is the square of t", () => {
    const ours = welchAnova(groups.slice(0, 2));
    expect(ours?.F).toBeCloseTo((welch?.t ?? 0) ** 2, 9);
    expect(ours?.p).toBeCloseTo(welch?.p ?? 0, 9);
  });

  it("studentized_range has the same probabilities and quantiles", () => {
    const cases = [
      { k: 3, df: 10, q: [0.5, 3.5, 6], p: [0.95] },
      { k: 12, df: 40, q: [2, 4.8], p: [] },
    ];
    const answers = askScipy(
      cases.map((it) => ({ ask: "tukey", ...it })),
      z.strictObject({ cdf: z.array(z.number()), quantiles: z.array(z.number()) }),
    );
    for (const [i, { k, df, q, p }] of cases.entries()) {
      for (const [j, at] of q.entries())
        expect(studentizedRangeCdf(at, k, df)).toBeCloseTo(answers[i]?.cdf[j] ?? -1, 9);
      for (const [j, at] of p.entries())
        expect(studentizedRangeQuantile(at, k, df)).toBeCloseTo(answers[i]?.quantiles[j] ?? -1, 8);
    }
  });
});

// Tables of the studentized range as printed in statistics textbooks (Pearson and Hartley's; from memory).
it.each([
  { p: 0.95, k: 3, df: 10, q: 3.88 },
  { p: 0.95, k: 4, df: 20, q: 3.96 },
  { p: 0.95, k: 5, df: 60, q: 3.98 },
  { p: 0.95, k: 10, df: 30, q: 4.82 },
  { p: 0.99, k: 3, df: 10, q: 5.27 },
  { p: 0.95, k: 3, df: 1e6, q: 3.31 },
])(
  "the studentized range of $k groups and $df degrees of freedom is $q at $p in the tables",
  ({ p, k, df, q }) => {
    expect(Math.abs(studentizedRangeQuantile(p, k, df) - q)).toBeLessThan(0.0051);
  },
);
