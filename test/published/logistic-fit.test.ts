import { spawnSync } from "node:child_process";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { z } from "zod";
import { randomStream } from "../../sim/random.ts";
import { packageRoot } from "../../station/package-root.ts";
import {
  atProbability,
  type BinaryPoint,
  CHI_SQUARED_95,
  fitLogistic,
} from "../../station/quality/test-setting/logistic-fit.ts";

const Answer = z.strictObject({
  params: z.tuple([z.number(), z.number()]),
  bse: z.tuple([z.number(), z.number()]),
  covariance: z.number(),
  llf: z.number(),
  llnull: z.number(),
  profile: z.array(z.number()),
});

interface Job {
  readonly points: readonly BinaryPoint[];
  readonly probability: number;
  readonly bounds: readonly number[];
}

/** @throws Error without statsmodels, with what Python said */
function statsmodels(asked: readonly Job[]): z.infer<typeof Answer>[] {
  const jobs = asked.map(({ points, ...job }) => ({
    x: points.map(({ x }) => x),
    event: points.map(({ event }) => Number(event)),
    ...job,
  }));
  const script = join(packageRoot(), "test", "published", "statsmodels_logit.py");
  const { status, stdout, stderr, error } = spawnSync("/usr/bin/python3", [script], {
    input: JSON.stringify(jobs),
    encoding: "utf8",
  });
  if (error || status !== 0) {
    throw new Error(`statsmodels gave no answer (Debian package python3-statsmodels): ${error ?? stderr}`);
  }
  return z.array(Answer).parse(JSON.parse(stdout));
}

const STUDIED = [
  0.5, 0.75, 1, 1.25, 1.5, 1.75, 1.75, 2, 2.25, 2.5, 2.75, 3, 3.25, 3.5, 4, 4.25, 4.5, 4.75, 5, 5.5,
];
const PASSED = [0, 0, 0, 0, 0, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 1, 1, 1, 1, 1];
const students = STUDIED.map((x, i) => ({ x, event: PASSED[i] === 1 }));

describe("a logistic fit", () => {
  // Hours of study and the passing of an exam, the common textbook example (data and figures from memory).
  it("of twenty students is the published one", () => {
    const { intercept, slope, variance } = fitLogistic(students);
    expect(intercept).toBeCloseTo(-4.0777, 4);
    expect(slope).toBeCloseTo(1.5046, 4);
    expect(Math.sqrt(variance.intercept)).toBeCloseTo(1.761, 3);
    expect(Math.sqrt(variance.slope)).toBeCloseTo(0.6287, 4);
  });

  const random = randomStream(5, "returns");
  const returns = Array.from({ length: 900 }, () => {
    const x = 60 * random.uniform();
    return { x, event: random.uniform() < 1 / (1 + Math.exp(5 - 0.08 * x)) };
  });
  it("is statsmodels', its interval by profile too, in any unit and from any zero", () => {
    const asked = [
      { points: students, probability: 0.5 },
      { points: returns, probability: 0.05 },
      { points: returns.map(({ x, event }) => ({ x: 3000 + x / 60, event })), probability: 0.05 },
    ].map((it) => {
      const fit = fitLogistic(it.points);
      return { ...it, fit, at: atProbability(it.points, fit, it.probability) };
    });
    const answers = statsmodels(
      asked.map(({ points, probability, at }) => ({ points, probability, bounds: [at.lower, at.upper] })),
    );
    const relative = (ours: number, their: number) => Math.abs(ours / their - 1);
    for (const [i, { fit, at }] of asked.entries()) {
      const theirs = answers[i];
      if (!theirs) throw new Error("no answer");
      expect(relative(fit.intercept, theirs.params[0])).toBeLessThan(1e-6);
      expect(relative(fit.slope, theirs.params[1])).toBeLessThan(1e-6);
      expect(relative(Math.sqrt(fit.variance.intercept), theirs.bse[0])).toBeLessThan(1e-5);
      expect(relative(Math.sqrt(fit.variance.slope), theirs.bse[1])).toBeLessThan(1e-5);
      expect(relative(fit.variance.both, theirs.covariance)).toBeLessThan(1e-5);
      expect(relative(fit.logLikelihood, theirs.llf)).toBeLessThan(1e-9);
      expect(relative(fit.nullLogLikelihood, theirs.llnull)).toBeLessThan(1e-9);
      for (const profile of theirs.profile) {
        expect(2 * (theirs.llf - profile)).toBeCloseTo(CHI_SQUARED_95, 5);
      }
      expect(at.lower).toBeLessThan(at.value);
      expect(at.upper).toBeGreaterThan(at.value);
    }
  });
});
