import { spawnSync } from "node:child_process";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { z } from "zod";
import { randomStream } from "../../sim/random.ts";
import { packageRoot } from "../../station/package-root.ts";
import { crossedStudy, type GaugeReading } from "../../station/quality/measurement-system/crossed-study.ts";
import { gaugeAnova } from "../../station/quality/measurement-system/gauge-anova.ts";
import { cohenKappa, fleissKappa } from "../../station/quality/measurement-system/kappa.ts";
import { cohenKappaOfUnits } from "../../station/quality/measurement-system/kappa-interval.ts";
import { aiagReadings } from "../quality/measurement-system/aiag-gauge-data.ts";
import { drawnReadings } from "../quality/measurement-system/drawn-readings.ts";

// The same values through statsmodels (another language, least squares on dummy variables where we sum squares of means).

const READINGS: Readonly<Record<string, readonly GaugeReading[]>> = {
  "AIAG's data": aiagReadings(),
  "a strong interaction": drawn("strong", { parts: 6, appraisers: 4, trials: 2, interaction: 0.8 }),
  "values far from zero": drawn("far", { parts: 12, appraisers: 2, trials: 5, mean: 101_325 }),
  "hardly a part effect": drawn("flat", { parts: 5, appraisers: 3, trials: 3, part: 0.01 }),
};
const TABLES = [
  [
    [44, 6],
    [3, 97],
  ],
  [
    [10, 2, 0],
    [1, 20, 4],
    [3, 3, 7],
  ],
  [
    [0, 5],
    [5, 0],
  ],
];
const COUNTS = [
  [
    [3, 0],
    [2, 1],
    [0, 3],
    [3, 0],
  ],
  [
    [4, 1, 1],
    [2, 2, 2],
    [0, 6, 0],
    [1, 0, 5],
    [3, 3, 0],
  ],
];

const Answer = z.strictObject({
  anova: z.array(
    z.strictObject({
      sums: z.array(z.number()),
      df: z.array(z.number()),
      F_int: z.number(),
      p_int: z.number(),
      pooled_MS: z.number(),
      pooled_df: z.number(),
      pooled_F: z.array(z.number()),
      pooled_p: z.array(z.number()),
    }),
  ),
  cohen: z.array(
    z.strictObject({
      kappa: z.number(),
      standardError: z.number(),
      interval: z.tuple([z.number(), z.number()]),
    }),
  ),
  fleiss: z.array(z.number()),
});

function drawn(name: string, design: Parameters<typeof drawnReadings>[1]): GaugeReading[] {
  return drawnReadings(randomStream(4, name), design);
}

/** Debian's, where python3-statsmodels is; another Python on the path may have none. */
const PYTHON = "/usr/bin/python3";

function askStatsmodels(): z.infer<typeof Answer> {
  const script = join(packageRoot(), "test", "published", "statsmodels_gauge.py");
  const { status, stdout, stderr, error } = spawnSync(PYTHON, [script], {
    input: JSON.stringify({ anova: Object.values(READINGS), cohen: TABLES, fleiss: COUNTS }),
    encoding: "utf8",
  });
  if (error || status !== 0)
    throw new Error(`statsmodels gave no answer (Debian package python3-statsmodels): ${error ?? stderr}`);
  return Answer.parse(JSON.parse(stdout));
}

const THEIRS = askStatsmodels();

describe("measurement system analysis against statsmodels", () => {
  it.each(Object.keys(READINGS).map((name, k) => [name, k] as const))(
    "has its analysis of variance: %s",
    (name, k) => {
      const study = crossedStudy(READINGS[name] ?? []);
      const kept = gaugeAnova(study, { interaction: "keep", poolAbove: 0.25 });
      const pooled = gaugeAnova(study, { interaction: "pool", poolAbove: 0.25 });
      const expected = THEIRS.anova[k];
      const lines = [kept.part, kept.appraiser, kept.interaction, kept.repeatability];
      expect(lines.map((line) => line?.degrees)).toEqual(expected?.df);
      for (const [i, line] of lines.entries())
        near(line?.sumOfSquares, expected?.sums[i], `sum of squares ${i}`);
      near(kept.interaction?.F, expected?.F_int, "F of the interaction");
      near(kept.interaction?.p, expected?.p_int, "p of the interaction");
      near(pooled.pooled?.meanSquare, expected?.pooled_MS, "pooled mean square");
      expect(pooled.pooled?.degrees).toBe(expected?.pooled_df);
      for (const [i, line] of [pooled.part, pooled.appraiser].entries()) {
        near(line?.F, expected?.pooled_F[i], `F ${i} after pooling`);
        near(line?.p, expected?.pooled_p[i], `p ${i} after pooling`);
      }
    },
  );

  it("has its Cohen's and Fleiss' kappas", () => {
    for (const [k, table] of TABLES.entries())
      expect(cohenKappa(table).kappa).toBeCloseTo(THEIRS.cohen[k]?.kappa ?? 9, 12);
    for (const [k, counts] of COUNTS.entries())
      expect(fleissKappa(counts).kappa).toBeCloseTo(THEIRS.fleiss[k] ?? 9, 12);
  });
});

it("Cohen's kappa of units rated once has the standard error and interval of statsmodels", () => {
  for (const [k, table] of TABLES.slice(0, -1).entries()) {
    const units = table.flatMap((row, i) =>
      row.flatMap((count, j) =>
        Array.from({ length: count }, () =>
          table.map((of, r) => of.map((_, c) => Number(r === i && c === j))),
        ),
      ),
    );
    const { standardError, CI95 } = cohenKappaOfUnits(units);
    const expected = THEIRS.cohen[k] ?? expect.fail("no answer");
    expect(standardError).toBeCloseTo(expected.standardError, 12);
    expect(CI95?.lower).toBeCloseTo(expected.interval[0], 12);
    expect(CI95?.upper).toBeCloseTo(expected.interval[1], 12);
  }
});

function near(ours: number | null | undefined, expected: number | undefined, what: string): void {
  expect(Math.abs((ours ?? Number.NaN) / (expected ?? Number.NaN) - 1), what).toBeLessThan(1e-7);
}
