import { spawnSync } from "node:child_process";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { z } from "zod";
import { packageRoot } from "../../station/package-root.ts";
import { oneWayAnova } from "../../station/quality/comparison/one-way-anova.ts";
import { gamesHowell, type Pair, tukeyKramer } from "../../station/quality/comparison/pairwise.ts";
import { welchAnova } from "../../station/quality/comparison/welch-anova.ts";
import { mcnemarExact, pairedDifference } from "../../station/quality/paired-proportions.ts";
import { sampleOf } from "../../station/quality/sample.ts";

type Groups = readonly (readonly number[])[];

/** NIST/SEMATECH e-Handbook, 7.4.7.1 (the first three: 7.4.3.3); from memory, to its digits. */
const HANDBOOK: Groups = [
  [6.9, 5.4, 5.8, 4.6, 4.0],
  [8.3, 6.8, 7.8, 9.2, 6.5],
  [8.0, 10.5, 8.1, 6.9, 9.3],
  [5.8, 3.8, 6.1, 5.6, 6.2],
];
const UNLIKE: Groups = [
  [21.4, 19.8, 23.1, 20.7, 22.2],
  [24.9, 30.3, 18.6, 33.5],
  [20.1, 20.4, 19.7, 20.9, 20.2, 20.0, 26.5],
];
const FAR_FROM_ZERO: Groups = UNLIKE.map((values) => values.map((value) => 101_325 + value));
/** What scipy and statsmodels say of values far from zero would be of rounding: theirs are those near to it. */
const ALL = [
  { name: "the handbook's", groups: HANDBOOK, asked: HANDBOOK },
  { name: "unlike ones", groups: UNLIKE, asked: UNLIKE },
  { name: "unlike ones far from zero", groups: FAR_FROM_ZERO, asked: UNLIKE },
];
const ASKED = [HANDBOOK, UNLIKE];
const CHANGES = [
  [1, 7],
  [12, 0],
  [5, 5],
  [40, 61],
  [300, 240],
] as const;

const Pairs = z.array(z.tuple([z.number(), z.number(), z.number(), z.number()]));
const Answer = z.strictObject({
  welch: z.array(z.strictObject({ F: z.number(), df: z.tuple([z.number(), z.number()]), p: z.number() })),
  tukey: z.array(Pairs),
  gamesHowell: z.array(Pairs),
  mcnemar: z.array(z.number()),
});

function ask(): z.infer<typeof Answer> {
  const script = join(packageRoot(), "test", "published", "comparisons.py");
  // Debian's, where python3-scipy and python3-statsmodels are.
  const { status, stdout, stderr, error } = spawnSync("/usr/bin/python3", [script], {
    input: JSON.stringify({ groups: ASKED, changes: CHANGES }),
    encoding: "utf8",
  });
  if (error || status !== 0)
    throw new Error(`statsmodels gave no answer (Debian package python3-statsmodels): ${error ?? stderr}`);
  return Answer.parse(JSON.parse(stdout));
}

const named = (groups: Groups) =>
  groups.map((values, k) => ({ name: String(k + 1), sample: sampleOf(values) }));

function pairsAgree(ours: readonly Pair[], theirs: z.infer<typeof Pairs>): void {
  expect(ours).toHaveLength(theirs.length);
  for (const [i, { difference, lower, upper, p }] of ours.entries()) {
    const [d = 9, low = 9, high = 9, chance = 9] = theirs[i] ?? [];
    expect(difference).toBeCloseTo(d, 8);
    // scipy finds its quantiles to about seven digits.
    expect(lower).toBeCloseTo(low, 5);
    expect(upper).toBeCloseTo(high, 5);
    expect(p).toBeCloseTo(chance, 7);
  }
}

describe("comparisons of three groups and more against statsmodels and scipy", () => {
  const theirs = ask();
  const tukey = (groups: Groups) => {
    const { s_res, df_within } = oneWayAnova(groups) ?? expect.fail("no analysis");
    return tukeyKramer(named(groups), s_res, df_within);
  };

  it.each(ALL)(
    "has Welch's analysis of variance, Tukey and Kramer's pairs and Games and Howell's: $name",
    ({ groups, asked }) => {
      const k = ASKED.indexOf(asked);
      const welch = welchAnova(groups) ?? expect.fail("no analysis");
      const expected = theirs.welch[k] ?? expect.fail("no answer");
      expect(Math.abs(welch.F / expected.F - 1)).toBeLessThan(1e-9);
      expect([welch.df1, welch.df2.toFixed(9)]).toEqual([expected.df[0], expected.df[1].toFixed(9)]);
      expect(welch.p).toBeCloseTo(expected.p, 11);
      pairsAgree(tukey(groups), theirs.tukey[k] ?? []);
      pairsAgree(gamesHowell(named(groups)), theirs.gamesHowell[k] ?? []);
    },
  );

  it("has McNemar's exact test", () => {
    for (const [k, [toGood, toBad]] of CHANGES.entries())
      expect(mcnemarExact({ pairs: 1000, toGood, toBad })).toBeCloseTo(theirs.mcnemar[k] ?? 9, 12);
  });

  // 7.4.3.3: sums 27.897 and 17.452, F 9.59. 7.4.7.1: q 4.05, and these intervals.
  it("has the table and the intervals of the e-Handbook's example", () => {
    const anova = oneWayAnova(HANDBOOK.slice(0, 3));
    expect([anova?.SS_between, anova?.SS_within, anova?.F].map((it) => it?.toFixed(2))).toEqual([
      "27.90",
      "17.45",
      "9.59",
    ]);
    const printed = {
      "1 2": [-4.47, -0.29],
      "1 3": [-5.31, -1.13],
      "1 4": [-2.25, 1.93],
      "2 3": [-2.93, 1.25],
      "2 4": [0.13, 4.31],
      "3 4": [0.97, 5.15],
    };
    for (const { a, b, lower, upper } of tukey(HANDBOOK)) {
      const [low = 9, high = 9] = printed[`${a} ${b}` as keyof typeof printed];
      expect(Math.abs(lower - low), `${a} ${b}`).toBeLessThan(0.0105);
      expect(Math.abs(upper - high), `${a} ${b}`).toBeLessThan(0.0105);
    }
  });
});

// Fagerland, Lydersen and Laake, Statistics in Medicine 33 (2014) 2850-2875, airways of 21 children before and after a stem cell
// transplant, 1 and 7 of whom changed: -0.508 to -0.013 by Bonett and Price (from memory).
it("the interval of paired proportions is Bonett and Price's of the published example", () => {
  const { difference, lower, upper } = pairedDifference({ pairs: 21, toGood: 1, toBad: 7 });
  expect(difference).toBeCloseTo(-6 / 21, 12);
  expect(lower.toFixed(3)).toBe("-0.508");
  expect(upper.toFixed(3)).toBe("-0.013");
});
