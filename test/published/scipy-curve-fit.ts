import { spawnSync } from "node:child_process";
import { join } from "node:path";
import { z } from "zod";
import type { DecayCurve, DecayKnowledge } from "../../station/measure/leak/decay-fit.ts";
import { packageRoot } from "../../station/package-root.ts";

/** A curve for SciPy's curve_fit, with the way its noise is told. */
export interface CurveFitJob extends DecayCurve {
  readonly knowledge: DecayKnowledge;
  readonly pressureExponent: number;
  readonly loosening?: number;
  /** White noise only; or the whole covariance matrix; or filtered out of data and model by hand. */
  readonly method: "deviations" | "covariance" | "filtered";
  /** Times this many fits, after so many that are not timed, with curve_fit's own tolerances; the answer's are the tightest. */
  readonly repeats?: number;
  readonly warmUps?: number;
}

const Answer = z.strictObject({
  slope_Pa_s: z.number(),
  slopeUncertainty_Pa_s: z.number(),
  tau_s: z.number(),
  heat_Pa: z.number(),
  slow_Pa: z.number(),
  restPressure_Pa: z.number(),
  seconds: z.array(z.number()),
});

/** Debian's, where python3-scipy is; another Python on the path may have another SciPy or none. */
const PYTHON = "/usr/bin/python3";

/** @throws Error without SciPy, with what Python said */
export function curveFit(jobs: readonly CurveFitJob[]): z.infer<typeof Answer>[] {
  const script = join(packageRoot(), "test", "published", "scipy_curve_fit.py");
  const { status, stdout, stderr, error } = spawnSync(PYTHON, [script], {
    input: JSON.stringify(jobs),
    encoding: "utf8",
    maxBuffer: 1e8,
  });
  if (error || status !== 0) {
    throw new Error(`SciPy's curve_fit gave no answer (Debian package python3-scipy): ${error ?? stderr}`);
  }
  return z.array(Answer).parse(JSON.parse(stdout));
}
