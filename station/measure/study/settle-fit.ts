import { type GaugeNoise, Whitener } from "../fit/gauge-noise.ts";
import { fitSeparable, type NonlinearColumn, type SeparableFit } from "../fit/variable-projection.ts";
import { isolatedWildReadings } from "../fit/wild-readings.ts";

/** Gauge pressures of one shut body; times since it was shut off, rising. */
export interface RunCurve {
  readonly t_s: Float64Array;
  readonly pressure_Pa: Float64Array;
}

/** The slow part: left out, found with its time constant, or of a time constant that is known. */
export type SlowOrder = "none" | "free" | { readonly tau_s: number };

/** What several runs on one body have in common, and what each has of its own. */
export interface RunsFit {
  readonly tau_s: number;
  readonly heat_Pa: number;
  readonly slow_Pa: number;
  readonly slowTau_s: number;
  /** Mean slope of the runs; positive when pressure rises. */
  readonly slope_Pa_s: number;
  /** Standard uncertainties from the gauge's noise. */
  readonly uncertainty: {
    readonly tau_s: number;
    readonly heat_Pa: number;
    readonly slow_Pa: number;
    /** Zero where it was not fitted. */
    readonly slowTau_s: number;
    readonly slope_Pa_s: number;
  };
  /** Readings less the model, one array per run. */
  readonly residuals_Pa: readonly Float64Array[];
  readonly converged: boolean;
}

/** The valve moves and the gauge lags: readings this soon after the command to shut off may not be of a shut body. */
const FIRST_FITTED_S = 0.25;
/** The slow part is taken to be this much slower than the gas, give or take a factor of e, until the curve says so itself. */
export const SLOW_PER_TAU = 4;
/** Median of the absolute differences of normal noise, per its standard deviation: 0.6745 times root two. */
const MEDIAN_DIFFERENCE = 0.9539;

/** Readings of a run that may be fitted: shut body, rising times, no wild ones. */
export function fittable(t_s: ArrayLike<number>, pressure_Pa: ArrayLike<number>): RunCurve {
  const wild = isolatedWildReadings(pressure_Pa, noiseFromDifferences_Pa(pressure_Pa));
  const times: number[] = [];
  const pressures: number[] = [];
  for (let i = 0; i < t_s.length; i++) {
    const t = t_s[i] as number;
    // Two lines that arrive together carry one time.
    if (wild.has(i) || t < FIRST_FITTED_S || t <= (times.at(-1) ?? Number.NEGATIVE_INFINITY)) continue;
    times.push(t);
    pressures.push(pressure_Pa[i] as number);
  }
  return { t_s: Float64Array.from(times), pressure_Pa: Float64Array.from(pressures) };
}

/** A first guess of the noise, from what neighbouring readings differ by. */
export function noiseFromDifferences(curves: readonly RunCurve[]): GaugeNoise {
  const white_Pa = Math.max(...curves.map(({ pressure_Pa }) => noiseFromDifferences_Pa(pressure_Pa)), 1e-6);
  return { white_Pa, wander_Pa: 0.3 * white_Pa, wanderTau_s: 0.5 };
}

/**
 * Fits p(t) = c_i + s_i t + heat exp(-t / tau) + slow exp(-t / slowTau) to all runs at once: constant and slope are each
 * run's own, the rest is common. With equal times that is the fit of the runs' mean.
 * @throws RangeError from the solver, for runs too short to tell the columns apart
 */
export function fitRuns(curves: readonly RunCurve[], noise: GaugeNoise, slow: SlowOrder): RunsFit {
  const rows = curves.reduce((sum, { t_s }) => sum + t_s.length, 0);
  const whiteners = curves.map(({ t_s }) => new Whitener(t_s, noise));
  const starts = startsOf(curves);
  const whiten = (column: Float64Array) => {
    for (const [i, whitener] of whiteners.entries()) {
      const from = starts[i] as number;
      whitener.apply(column.subarray(from, from + (curves[i]?.t_s.length ?? 0)));
    }
    return column;
  };
  const column = (value: (t: number, run: number, i: number) => number) => {
    const made = new Float64Array(rows);
    for (const [run, { t_s }] of curves.entries()) {
      const from = starts[run] as number;
      for (let i = 0; i < t_s.length; i++) made[from + i] = value(t_s[i] as number, run, i);
    }
    return made;
  };
  const offsets_Pa = curves.map(({ pressure_Pa }) => pressure_Pa.at(-1) ?? 0);
  const y = whiten(
    column((_, run, i) => (curves[run]?.pressure_Pa[i] as number) - (offsets_Pa[run] as number)),
  );
  const ownColumns = curves.flatMap((_, own) => [
    whiten(column((__, run) => (run === own ? 1 : 0))),
    whiten(column((t, run) => (run === own ? t : 0))),
  ]);
  const slowColumn = typeof slow === "string" ? [] : [whiten(column((t) => Math.exp(-t / slow.tau_s)))];
  const relaxing = (start_s: number, prior?: { mean: number; deviation: number }): NonlinearColumn => ({
    start: Math.log(start_s),
    ...(prior ? { prior } : {}),
    fill(logTau, values, derivative) {
      const rate_per_s = Math.exp(-logTau);
      for (const [run, { t_s }] of curves.entries()) {
        const from = starts[run] as number;
        for (let i = 0; i < t_s.length; i++) {
          const x = (t_s[i] as number) * rate_per_s;
          const left = Math.exp(-x);
          values[from + i] = left;
          derivative[from + i] = left * x;
        }
      }
      whiten(values);
      whiten(derivative);
    },
  });
  const tau0_s = timeConstantAtSight_s(curves);
  const slowStart_s = SLOW_PER_TAU * tau0_s;
  const nonlinear =
    slow === "free"
      ? [relaxing(tau0_s), relaxing(slowStart_s, { mean: Math.log(slowStart_s), deviation: 1 })]
      : [relaxing(tau0_s)];
  const fit = fitSeparable(y, { linear: [...ownColumns, ...slowColumn], nonlinear });
  return answer(fit, curves, offsets_Pa, slow);
}

function answer(
  fit: SeparableFit,
  curves: readonly RunCurve[],
  offsets_Pa: readonly number[],
  slow: SlowOrder,
): RunsFit {
  const n = curves.length;
  const parametersAt = fit.linear.length + fit.amplitudes.length;
  const slowAt = slow === "none" ? null : slow === "free" ? fit.linear.length + 1 : 2 * n;
  const coefficients = [...fit.linear, ...fit.amplitudes];
  const deviation = (at: number) => Math.sqrt(fit.covariance[at]?.[at] ?? Number.NaN);
  const tau_s = Math.exp(fit.parameters[0] ?? Number.NaN);
  const slowTau_s =
    slow === "free"
      ? Math.exp(fit.parameters[1] ?? Number.NaN)
      : slow === "none"
        ? SLOW_PER_TAU * tau_s
        : slow.tau_s;
  const heat_Pa = fit.amplitudes[0] ?? Number.NaN;
  const slow_Pa = slowAt === null ? 0 : (coefficients[slowAt] ?? Number.NaN);
  let slopes = 0;
  let slopeVariance = 0;
  for (let i = 0; i < n; i++) {
    slopes += fit.linear[2 * i + 1] ?? Number.NaN;
    for (let j = 0; j < n; j++) slopeVariance += fit.covariance[2 * i + 1]?.[2 * j + 1] ?? Number.NaN;
  }
  const residuals_Pa = curves.map(({ t_s, pressure_Pa }, run) => {
    const constant_Pa = (offsets_Pa[run] as number) + (fit.linear[2 * run] ?? Number.NaN);
    const slope_Pa_s = fit.linear[2 * run + 1] ?? Number.NaN;
    return pressure_Pa.map((pressure, i) => {
      const t = t_s[i] as number;
      const settling = heat_Pa * Math.exp(-t / tau_s) + slow_Pa * Math.exp(-t / slowTau_s);
      return pressure - constant_Pa - slope_Pa_s * t - settling;
    });
  });
  return {
    tau_s,
    heat_Pa,
    slow_Pa,
    slowTau_s,
    slope_Pa_s: slopes / n,
    uncertainty: {
      tau_s: tau_s * deviation(parametersAt),
      heat_Pa: deviation(fit.linear.length),
      slow_Pa: slowAt === null ? 0 : deviation(slowAt),
      slowTau_s: slow === "free" ? slowTau_s * deviation(parametersAt + 1) : 0,
      slope_Pa_s: Math.sqrt(slopeVariance) / n,
    },
    residuals_Pa,
    converged: fit.converged,
  };
}

function startsOf(curves: readonly RunCurve[]): number[] {
  let next = 0;
  return curves.map(({ t_s }) => {
    const start = next;
    next += t_s.length;
    return start;
  });
}

/** Where the first curve has come within 1/e of its end: near enough for the search to begin. */
function timeConstantAtSight_s([curve]: readonly RunCurve[]): number {
  if (!curve) throw new RangeError("There is no run to learn from.");
  const { t_s, pressure_Pa } = curve;
  const first = pressure_Pa[0] ?? 0;
  const end = pressure_Pa.at(-1) ?? 0;
  const at = pressure_Pa.findIndex((pressure) => Math.abs(pressure - end) < Math.abs(first - end) / Math.E);
  return Math.max(0.1, (t_s[Math.max(at, 0)] ?? 0) - (t_s[0] ?? 0));
}

function noiseFromDifferences_Pa(pressure_Pa: ArrayLike<number>): number {
  const differences: number[] = [];
  for (let i = 1; i < pressure_Pa.length; i++) {
    differences.push(Math.abs((pressure_Pa[i] as number) - (pressure_Pa[i - 1] as number)));
  }
  differences.sort((a, b) => a - b);
  return (differences[Math.floor(differences.length / 2)] ?? 0) / MEDIAN_DIFFERENCE;
}
