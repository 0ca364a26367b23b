import { describe, expect, it } from "vitest";
import { randomStream } from "../../sim/random.ts";
import { type DecayKnowledge, fitDecay } from "../../station/measure/leak/decay-fit.ts";
import { drawnCurve, evenTimes, KNOWLEDGE, unevenTimes, vague } from "../measure/fit/model-curve.ts";
import { type CurveFitJob, curveFit } from "./scipy-curve-fit.ts";

// The same curves, model, noise and priors through SciPy's curve_fit (MINPACK's lmder, another language, a dense covariance
// matrix where the station filters): the same answer to one part in a million.

const WHITE: DecayKnowledge = { ...KNOWLEDGE, noise: { ...KNOWLEDGE.noise, wander_Pa: 0 } };
const SUCTION_POD: DecayKnowledge = {
  testPressure_Pa: 6000,
  tau_s: 0.9,
  tauSpread_s: 0.05,
  heat_Pa: -240,
  heatSpread_Pa: 12,
  slow_Pa: -14,
  slowSpread_Pa: 5,
  slowTau_s: 3.6,
  noise: { white_Pa: 0.4, wander_Pa: 0.9, wanderTau_s: 1.5 },
};

const JOBS: Readonly<Record<string, CurveFitJob>> = {
  "white noise": job(WHITE, evenTimes(400), "deviations", 0.6),
  "white noise, uneven sampling": job(WHITE, unevenTimes(500, randomStream(1, "times")), "deviations", 1),
  "wandering noise, full covariance matrix": job(KNOWLEDGE, evenTimes(450), "covariance", 0.6),
  "wandering noise, uneven sampling with a gap": job(
    KNOWLEDGE,
    unevenTimes(450, randomStream(2, "times")),
    "covariance",
    0.6,
  ),
  "little known beforehand": job(vague(KNOWLEDGE, 10), evenTimes(600), "covariance", 0.5),
  "overpressure, noise that wanders more than it jumps": job(SUCTION_POD, evenTimes(300), "covariance", 1),
  "a short look": job(KNOWLEDGE, evenTimes(150), "covariance", 0.6),
  "spreads widened four times": { ...job(KNOWLEDGE, evenTimes(400), "covariance", 0.6), loosening: 4 },
  "noise filtered by hand": job(KNOWLEDGE, unevenTimes(1500, randomStream(3, "times")), "filtered", 0.6),
};

function job(
  knowledge: DecayKnowledge,
  t_s: readonly number[],
  method: CurveFitJob["method"],
  pressureExponent: number,
): CurveFitJob {
  return { ...drawnCurve(t_s, knowledge, 1.4, t_s.length), knowledge, method, pressureExponent };
}

describe("the decay fit against SciPy's curve_fit", () => {
  const answers = curveFit(Object.values(JOBS));

  it.each(Object.keys(JOBS).map((name, i) => [name, i] as const))(
    "gives the same parameters and the same uncertainty of the slope: %s",
    (name, i) => {
      const [given, theirs] = [JOBS[name], answers[i]];
      if (!given || !theirs) throw new Error("no answer");
      const ours = fitDecay(given, given.knowledge, given);
      expect(ours.leftOut).toBe(0);
      const found = {
        slope_Pa_s: ours.slope_Pa_s,
        // Without the allowance for a gauge that was noisier than calibrated.
        slopeUncertainty_Pa_s: ours.slopeUncertainty_Pa_s / Math.max(1, ours.noiseRatio),
        tau_s: ours.tau_s,
        heat_Pa: ours.heat_Pa,
        slow_Pa: ours.slow_Pa,
        restPressure_Pa: ours.restPressure_Pa,
      };
      for (const key of [
        "slope_Pa_s",
        "slopeUncertainty_Pa_s",
        "tau_s",
        "heat_Pa",
        "slow_Pa",
        "restPressure_Pa",
      ] as const) {
        expect(Math.abs(found[key] / theirs[key] - 1), key).toBeLessThan(1e-6);
      }
    },
  );
});
