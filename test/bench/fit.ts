import { type DecayKnowledge, fitDecay } from "../../station/measure/leak/decay-fit.ts";
import { drawnCurve, evenTimes, KNOWLEDGE } from "../measure/fit/model-curve.ts";
import { type CurveFitJob, curveFit } from "../published/scipy-curve-fit.ts";
import { aside, atLeast, type Bench, median } from "./figure.ts";

const SAMPLES = 1500;
const CURVES = 5;
const OURS = { repeats: 300, warmUps: 300 };
const SAME_TO = 1e-6;
const WHITE: DecayKnowledge = { ...KNOWLEDGE, noise: { ...KNOWLEDGE.noise, wander_Pa: 0 } };

/**
 * One fit of 1,500 samples, constant, leak, heat and slow part with their priors, against SciPy's curve_fit in the same run:
 * same curves, same model, same start (the calibration), same slope and uncertainty to one part in a million, which is
 * checked with SciPy at its tightest tolerances and timed with its own, which stop it sooner.
 *
 * SciPy gets what helps it: the analytic Jacobian, absolute_sigma, all that does not hang on the parameters made
 * beforehand, warm-up calls, and the clock inside Python around curve_fit alone. Ours is the station's whole fitDecay, from
 * raw readings to the test of the residuals. Medians of single calls over five curves.
 *
 * A gauge's noise wanders, and curve_fit's documented way for that is sigma as a covariance matrix. Beside it, what an
 * expert can do by hand: the noise filtered out of data and model, with a banded factor made beforehand. And white noise
 * alone, where nothing has to be filtered: there the two do nearly the same arithmetic.
 */
export const fit: Bench = async () => {
  const covariance = compare(KNOWLEDGE, "covariance", { repeats: 5, warmUps: 1 });
  const filtered = compare(KNOWLEDGE, "filtered", { repeats: 300, warmUps: 100 });
  const white = compare(WHITE, "deviations", { repeats: 300, warmUps: 100 });
  return [
    atLeast(20, {
      figure: `fit of ${SAMPLES} samples, wandering noise`,
      ...covariance,
      against: `SciPy curve_fit, covariance matrix, ${(covariance.theirs_us / 1000).toFixed(0)} ms`,
    }),
    aside({
      figure: "the same, SciPy's noise filtered by hand",
      ...filtered,
      against: `SciPy curve_fit on filtered data, ${filtered.theirs_us.toFixed(0)} us`,
    }),
    aside({
      figure: "white noise alone",
      ...white,
      against: `SciPy curve_fit, sigma per sample, ${white.theirs_us.toFixed(0)} us`,
    }),
  ];
};

function compare(
  knowledge: DecayKnowledge,
  method: CurveFitJob["method"],
  counts: { readonly repeats: number; readonly warmUps: number },
) {
  const jobs = Array.from({ length: CURVES }, (_, seed) => ({
    ...drawnCurve(evenTimes(SAMPLES), knowledge, 1.4, seed),
    knowledge,
    pressureExponent: 0.6,
    method,
    ...counts,
  }));
  const theirs = curveFit(jobs);
  for (const [i, job] of jobs.entries()) {
    const ours = fitDecay(job, knowledge, job);
    // Without the allowance for a gauge noisier than calibrated, which curve_fit does not make.
    const uncertainty_Pa_s = ours.slopeUncertainty_Pa_s / Math.max(1, ours.noiseRatio);
    requireSame("slope", ours.slope_Pa_s, theirs[i]?.slope_Pa_s);
    requireSame("uncertainty", uncertainty_Pa_s, theirs[i]?.slopeUncertainty_Pa_s);
  }
  const ours_us = median(jobs.flatMap((job) => times_us(() => fitDecay(job, knowledge, job))));
  const theirs_us = 1e6 * median(theirs.flatMap(({ seconds }) => seconds));
  return { value: ours_us, unit: "us", theirs_us, ratio: theirs_us / ours_us };
}

function requireSame(what: string, ours: number, theirs: number | undefined): void {
  if (theirs === undefined || !(Math.abs(ours / theirs - 1) < SAME_TO)) {
    throw new Error(`The two fits differ in the ${what}: ours ${ours}, SciPy's ${theirs}.`);
  }
}

function times_us(run: () => void): number[] {
  for (let k = 0; k < OURS.warmUps; k++) run();
  return Array.from({ length: OURS.repeats }, () => {
    const start_ms = performance.now();
    run();
    return 1000 * (performance.now() - start_ms);
  });
}
