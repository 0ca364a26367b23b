import { spawnSync } from "node:child_process";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { z } from "zod";
import { packageRoot } from "../../station/package-root.ts";
import { meanDeviation } from "../../station/quality/control-chart/constants.ts";
import { rangeCdf } from "../../station/quality/control-chart/range-distribution.ts";

const Answer = z.strictObject({ cdf: z.array(z.number()), c4: z.record(z.string(), z.number()) });
const ASKED = [2, 3, 5, 8, 10, 25, 100].flatMap((n) =>
  [0.05, 0.5, 1.2, 2.5, 3.685, 5, 7].map((w) => [w, n] as const),
);

function byScipy(): z.infer<typeof Answer> {
  const script = join(packageRoot(), "test", "published", "scipy_range_distribution.py");
  // Debian's, where python3-scipy is.
  const { status, stdout, stderr, error } = spawnSync("/usr/bin/python3", [script], {
    input: JSON.stringify(ASKED),
    encoding: "utf8",
  });
  if (error || status !== 0) {
    throw new Error(`SciPy gave no range distribution (Debian package python3-scipy): ${error ?? stderr}`);
  }
  return Answer.parse(JSON.parse(stdout));
}

describe("the distribution of the range against SciPy's studentized range, infinite degrees of freedom", () => {
  const theirs = byScipy();

  it("has the same probabilities to 1e-9, from two values to a hundred", () => {
    for (const [i, [w, n]] of ASKED.entries())
      expect(Math.abs(rangeCdf(w, n) - (theirs.cdf[i] ?? Number.NaN)), `w ${w}, n ${n}`).toBeLessThan(1e-9);
  });

  it("has the same c4 to 1e-12", () => {
    for (const [n, c4] of Object.entries(theirs.c4))
      expect(Math.abs(meanDeviation(Number(n)) - c4)).toBeLessThan(1e-12);
  });
});
