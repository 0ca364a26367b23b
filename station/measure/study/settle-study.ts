import { estimateNoise, type GaugeNoise } from "../fit/gauge-noise.ts";
import { mean } from "../fit/mean.ts";
import type { SettleCalibration } from "../leak/settle-calibration.ts";
import { meanCurve } from "./mean-curve.ts";
import {
  fitRuns,
  fittable,
  noiseFromDifferences,
  type RunCurve,
  type RunsFit,
  SLOW_PER_TAU,
  type SlowOrder,
} from "./settle-fit.ts";

/** One run on the tight reference piece: gauge pressures, times since the body was shut off, rising. */
export interface WatchedDecay {
  readonly fill_s: number;
  readonly t_s: ArrayLike<number>;
  readonly pressure_Pa: ArrayLike<number>;
}

export interface SettleStudyOptions {
  readonly testPressure_Pa: number;
  /**
   * Standard deviations to be expected from unit to unit, as parts of the value: one tight piece can't show how units
   * differ from it.
   */
  readonly unitSpread: { readonly tau: number; readonly heat: number; readonly slow: number };
  /** What the piece's own certified leak takes from the pressure, positive when pressure is lost. */
  readonly pieceLoss_Pa_s: number;
  /** Standard uncertainty of a slope from the drift of the room. */
  readonly roomDrift_Pa_s: number;
}

export interface LearnedSettling {
  readonly kind: "learned";
  readonly calibration: SettleCalibration;
  /** Standard deviations from run to run. */
  readonly runToRun: {
    readonly tau_s: number;
    readonly heat_Pa: number;
    readonly slow_Pa: number;
    readonly slope_Pa_s: number;
  };
  /** What the model leaves in all runs alike, root mean square. */
  readonly pattern_Pa: number;
  readonly cautions: readonly string[];
}

export type SettleStudy = LearnedSettling | { readonly kind: "not learned"; readonly sentence: string };

/** Fewer say nothing of how runs differ (JCGM 101:2008, 6.4.9.4: the variance of a mean of 3 has no expectation). */
const LEAST_RUNS = 4;
const LEAST_READINGS = 200;
/** Watched for less than this many time constants, heat and leak can't be told apart. */
const LEAST_TAUS = 6;
/** An amplitude below this many standard uncertainties is taken for not there. */
const SIGNIFICANT = 3;
/** The slow part's own time constant counts when it is known to this part of itself. */
const KNOWN_SLOW_TAU = 0.3;
/** A slow part nearer to the gas than this is the gas again. */
const SLOWER_LEAST = 1.6;
/** The early part, where a mismatch of the model would count as noise, in time constants. */
const NOISE_FROM_TAUS = 3;
const PATTERN_BLOCKS = 20;
/** Cautions: runs differing, and a pattern left, by more than these parts of the heat. */
const MOST_RUN_TO_RUN = 0.03;
const MOST_PATTERN = 0.001;

/**
 * Learns how a body of this model comes to rest from several runs on its tight reference piece: all runs fitted together
 * for what they have in common, then each by itself for how they differ. The slow part is kept where it stands out by three
 * of its standard uncertainties; where it does not it is zero, with what may be hidden as its spread.
 *
 * Spreads are the root of run-to-run variance (that of a new run against a mean of n, factor 1 + 1/n) and the stated
 * variance between units.
 * @returns the calibration; or, in one sentence, why these runs give none
 * @see Golub and Pereyra 1973 for the fit (variable-projection.ts); JCGM 100:2008, 4.2 for the mean of n runs
 */
export function learnSettling(decays: readonly WatchedDecay[], options: SettleStudyOptions): SettleStudy {
  const curves = decays.map(({ t_s, pressure_Pa }) => fittable(t_s, pressure_Pa));
  const doubt = unusable(curves);
  if (doubt !== null) return notLearned(doubt);
  const watched_s = Math.min(...curves.map(({ t_s }) => t_s.at(-1) ?? 0));
  const gasOnly = fitWithNoise(curves, "none");
  const faint = gasOnly.fit;
  if (!faint.converged || !(Math.abs(faint.heat_Pa) > SIGNIFICANT * faint.uncertainty.heat_Pa)) {
    return notLearned(
      "The runs show no heat that settles exponentially, so there is nothing to learn: look at the fill, or use a fixed timer for this model.",
    );
  }
  if (watched_s < LEAST_TAUS * faint.tau_s) {
    return notLearned(
      `The gas settles with a time constant of about ${faint.tau_s.toPrecision(2)} s, and the runs were watched for ${watched_s.toFixed(0)} s: watch for ${Math.ceil(LEAST_TAUS * faint.tau_s + 1)} s or longer.`,
    );
  }
  const slow = slowPart(curves, gasOnly);
  const { fit, noise } = slow;
  const own = curves.map((curve) => fitRuns([curve], noise, { tau_s: fit.slowTau_s }));
  const runToRun = {
    tau_s: deviation(own.map((run) => run.tau_s)),
    heat_Pa: deviation(own.map((run) => run.heat_Pa)),
    slow_Pa: deviation(own.map((run) => run.slow_Pa)),
    slope_Pa_s: deviation(own.map((run) => run.slope_Pa_s)),
  };
  const n = curves.length;
  // The piece is one body of many itself: another differs from it by the root of two of what bodies differ by.
  const spread = (fromRuns: number, ofOne: number, hidden: number, ofUnits: number) =>
    Math.sqrt(Math.max(fromRuns, ofOne) ** 2 * (1 + 1 / n) + hidden ** 2 + 2 * ofUnits ** 2);
  const { unitSpread, testPressure_Pa } = options;
  const loss_Pa_s = -Math.sign(testPressure_Pa) * fit.slope_Pa_s;
  const calibration: SettleCalibration = {
    testPressure_Pa,
    fill_s: mean(decays.map(({ fill_s }) => fill_s)),
    tau_s: fit.tau_s,
    tauSpread_s: spread(
      runToRun.tau_s,
      fit.uncertainty.tau_s * Math.sqrt(n),
      slow.hidden.tau_s,
      unitSpread.tau * fit.tau_s,
    ),
    heat_Pa: fit.heat_Pa,
    heatSpread_Pa: spread(
      runToRun.heat_Pa,
      fit.uncertainty.heat_Pa * Math.sqrt(n),
      slow.hidden.heat_Pa,
      unitSpread.heat * Math.abs(fit.heat_Pa),
    ),
    slow_Pa: fit.slow_Pa,
    slowSpread_Pa: spread(
      runToRun.slow_Pa,
      fit.uncertainty.slow_Pa * Math.sqrt(n),
      slow.hidden.slow_Pa,
      unitSpread.slow * Math.abs(fit.slow_Pa),
    ),
    slowTau_s: fit.slowTau_s,
    background_Pa_s: loss_Pa_s - options.pieceLoss_Pa_s,
    backgroundUncertainty_Pa_s: Math.hypot(
      Math.max((runToRun.slope_Pa_s / Math.sqrt(n)) * fewRuns(n), fit.uncertainty.slope_Pa_s),
      slow.hidden.slope_Pa_s,
      options.roomDrift_Pa_s,
    ),
    noise,
    meanCurve: meanCurve(
      {
        settling: fit,
        slope_Pa_s: fit.slope_Pa_s,
        runs: curves.map(({ t_s }, i) => ({ t_s, residual_Pa: fit.residuals_Pa[i] ?? [] })),
      },
      watched_s,
    ),
    runs: n,
    watched_s,
  };
  const pattern_Pa = patternLeft_Pa(curves, fit);
  return {
    kind: "learned",
    calibration,
    runToRun,
    pattern_Pa,
    cautions: cautions(calibration, runToRun, pattern_Pa, slow.isFound),
  };
}

interface SlowPart {
  readonly isFound: boolean;
  readonly fit: RunsFit;
  readonly noise: GaugeNoise;
  /** What a slow part too small to be seen may have done to the rest. */
  readonly hidden: {
    readonly tau_s: number;
    readonly heat_Pa: number;
    readonly slow_Pa: number;
    readonly slope_Pa_s: number;
  };
}

/**
 * The slow part that is guessed to be four times slower than the gas, where it stands out; with its own time constant where
 * the curves tell that too.
 */
function slowPart(curves: readonly RunCurve[], gasOnly: { fit: RunsFit; noise: GaugeNoise }): SlowPart {
  const n = curves.length;
  const slowTau_s = SLOW_PER_TAU * gasOnly.fit.tau_s;
  const { fit: guessed, noise } = fitWithNoise(curves, { tau_s: slowTau_s });
  const own_Pa = curves.map((curve) => fitRuns([curve], noise, { tau_s: slowTau_s }).slow_Pa);
  const scatter_Pa = (deviation(own_Pa) / Math.sqrt(n)) * fewRuns(n);
  const uncertainty_Pa = Math.max(guessed.uncertainty.slow_Pa, scatter_Pa);
  if (!(Math.abs(guessed.slow_Pa) > SIGNIFICANT * uncertainty_Pa)) {
    const { fit: without } = gasOnly;
    return {
      isFound: false,
      fit: { ...without, slow_Pa: 0, slowTau_s },
      noise: gasOnly.noise,
      hidden: {
        tau_s: guessed.tau_s - without.tau_s,
        heat_Pa: guessed.heat_Pa - without.heat_Pa,
        slow_Pa: Math.hypot(guessed.slow_Pa, uncertainty_Pa),
        slope_Pa_s: Math.hypot(guessed.slope_Pa_s - without.slope_Pa_s, guessed.uncertainty.slope_Pa_s),
      },
    };
  }
  const free = fitWithNoise(curves, "free");
  const watched_s = Math.min(...curves.map(({ t_s }) => t_s.at(-1) ?? 0));
  const isApart = free.fit.slowTau_s > SLOWER_LEAST * free.fit.tau_s && free.fit.slowTau_s < watched_s;
  if (free.fit.converged && isApart && free.fit.uncertainty.slowTau_s < KNOWN_SLOW_TAU * free.fit.slowTau_s) {
    return { isFound: true, ...free, hidden: { tau_s: 0, heat_Pa: 0, slow_Pa: 0, slope_Pa_s: 0 } };
  }
  // Half or twice as slow would look much the same; what else that would change stays open.
  const slower = fitRuns(curves, noise, { tau_s: 2 * slowTau_s });
  return {
    isFound: true,
    fit: guessed,
    noise,
    hidden: {
      tau_s: slower.tau_s - guessed.tau_s,
      heat_Pa: slower.heat_Pa - guessed.heat_Pa,
      slow_Pa: slower.slow_Pa - guessed.slow_Pa,
      slope_Pa_s: slower.slope_Pa_s - guessed.slope_Pa_s,
    },
  };
}

/** The fit weighted by the noise its own residuals show, once they show it. */
function fitWithNoise(curves: readonly RunCurve[], slow: SlowOrder): { fit: RunsFit; noise: GaugeNoise } {
  const first = fitRuns(curves, noiseFromDifferences(curves), slow);
  const noise = noiseOf(curves, first);
  return { fit: fitRuns(curves, noise, slow), noise };
}

function noiseOf(curves: readonly RunCurve[], fit: RunsFit): GaugeNoise {
  return estimateNoise(
    curves.map(({ t_s }, run) => {
      const late = t_s.findIndex((t) => t > Math.min(NOISE_FROM_TAUS * fit.tau_s, (t_s.at(-1) ?? 0) / 2));
      const residual_Pa = fit.residuals_Pa[run] ?? new Float64Array();
      return { t_s: t_s.subarray(late), residual_Pa: residual_Pa.subarray(late) };
    }),
  );
}

/** What the runs' residuals have in common, root mean square over blocks of time, less what chance makes of as many runs. */
function patternLeft_Pa(curves: readonly RunCurve[], fit: RunsFit): number {
  const end_s = Math.min(...curves.map(({ t_s }) => t_s.at(-1) ?? 0));
  const blockMeans = curves.map(({ t_s }, run) => {
    const blocks = Array.from({ length: PATTERN_BLOCKS }, () => ({ sum: 0, count: 0 }));
    for (let i = 0; i < t_s.length; i++) {
      const block = blocks[Math.floor(((t_s[i] as number) / end_s) * PATTERN_BLOCKS)];
      if (!block) continue;
      block.sum += fit.residuals_Pa[run]?.[i] ?? 0;
      block.count++;
    }
    return blocks.map(({ sum, count }) => (count > 0 ? sum / count : 0));
  });
  let squares = 0;
  for (let block = 0; block < PATTERN_BLOCKS; block++) {
    const ofRuns = blockMeans.map((means) => means[block] ?? 0);
    squares += mean(ofRuns) ** 2 - deviation(ofRuns) ** 2 / curves.length;
  }
  return Math.sqrt(Math.max(0, squares / PATTERN_BLOCKS));
}

/** Variance that a mean over a time T has times T, for T far above the wandering's time constant; Pa2 s. */
export function noiseDensity_Pa2_s(noise: GaugeNoise, spacing_s: number): number {
  return noise.white_Pa ** 2 * spacing_s + 2 * noise.wander_Pa ** 2 * noise.wanderTau_s;
}

/** A deviation known from few runs says less than it seems to: factor of the t-distribution's deviation. */
function fewRuns(n: number): number {
  return Math.sqrt((n - 1) / (n - 3));
}

function unusable(curves: readonly RunCurve[]): string | null {
  if (curves.length < LEAST_RUNS) {
    return `${curves.length} runs do not show how runs differ: make ${LEAST_RUNS} or more.`;
  }
  const fewest = Math.min(...curves.map(({ t_s }) => t_s.length));
  if (fewest < LEAST_READINGS) {
    return `A run has only ${fewest} readings of the leak gauge, ${LEAST_READINGS} are needed: watch longer.`;
  }
  return null;
}

function cautions(
  calibration: SettleCalibration,
  runToRun: LearnedSettling["runToRun"],
  pattern_Pa: number,
  isSlowFound: boolean,
): string[] {
  const { heat_Pa, tau_s, slowTau_s, watched_s } = calibration;
  const heat = Math.abs(heat_Pa);
  const said: string[] = [];
  if (runToRun.heat_Pa > MOST_RUN_TO_RUN * heat || runToRun.tau_s > MOST_RUN_TO_RUN * tau_s) {
    said.push(
      `The runs differ (heat by ${percent(runToRun.heat_Pa / heat)}, time constant by ${percent(runToRun.tau_s / tau_s)}): rest longer between them, and keep draughts from the body.`,
    );
  }
  if (pattern_Pa > MOST_PATTERN * heat) {
    said.push(
      `The model leaves a pattern of ${pattern_Pa.toPrecision(2)} Pa: this body does not settle as one gas and one slow part, so measure it by a fixed timer, or trust the fit only after settling.`,
    );
  }
  if (isSlowFound && slowTau_s > watched_s / 2.5) {
    said.push(
      `The slow part takes ${slowTau_s.toFixed(0)} s, too long to tell it from a leak in ${watched_s.toFixed(0)} s: watch for ${Math.ceil((3 * slowTau_s) / 10) * 10} s.`,
    );
  }
  return said;
}

function percent(part: number): string {
  return `${(100 * part).toPrecision(2)} %`;
}

function notLearned(sentence: string): SettleStudy {
  return { kind: "not learned", sentence };
}

function deviation(values: readonly number[]): number {
  const middle = mean(values);
  return Math.sqrt(values.reduce((sum, value) => sum + (value - middle) ** 2, 0) / (values.length - 1));
}
