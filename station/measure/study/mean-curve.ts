import type { SettleCalibration } from "../leak/settle-calibration.ts";

/** What runs have in common after shut-off, and what of each is left beside it. */
export interface FittedRuns {
  readonly settling: Pick<SettleCalibration, "tau_s" | "heat_Pa" | "slow_Pa" | "slowTau_s">;
  /** Mean slope of the runs, Pa/s. */
  readonly slope_Pa_s: number;
  readonly runs: readonly { readonly t_s: ArrayLike<number>; readonly residual_Pa: ArrayLike<number> }[];
}

const KNOTS = 150;
/** Part of the knots that lie evenly; the others lie where the curve bends. */
const EVEN_PART = 0.35;

/**
 * Mean of the runs less its last value: the fitted curve plus, around each knot, the mean of what the runs depart from it,
 * so that averaging does not flatten the bend at the start.
 * @param until_s end of the shortest run
 */
export function meanCurve(fitted: FittedRuns, until_s: number): SettleCalibration["meanCurve"] {
  const { tau_s, heat_Pa, slow_Pa, slowTau_s } = fitted.settling;
  const t_s = knots_s(tau_s, until_s);
  const departures = meanNear(t_s, fitted.runs);
  const pressure_Pa = t_s.map(
    (t, k) =>
      fitted.slope_Pa_s * t +
      heat_Pa * Math.exp(-t / tau_s) +
      slow_Pa * Math.exp(-t / slowTau_s) +
      (departures[k] as number),
  );
  const last_Pa = pressure_Pa.at(-1) ?? 0;
  return { t_s, pressure_Pa: pressure_Pa.map((pressure) => pressure - last_Pa) };
}

/**
 * A straight line between knots h apart misses an exponential by its curvature times h squared over 8: spacing that grows
 * as exp(t / 2 tau) makes that error the same everywhere.
 */
function knots_s(tau_s: number, until_s: number): number[] {
  const most = 1 - Math.exp(-until_s / (2 * tau_s));
  const share = (t: number) =>
    EVEN_PART * (t / until_s) + ((1 - EVEN_PART) * (1 - Math.exp(-t / (2 * tau_s)))) / most;
  const knots: number[] = [];
  let t = 0;
  for (let k = 0; k < KNOTS; k++) {
    const wanted = k / (KNOTS - 1);
    // The share rises with falling slope, so that Newton's steps from the left never pass the knot.
    for (let i = 0; i < 50 && k > 0; i++) {
      const slope = EVEN_PART / until_s + ((1 - EVEN_PART) * Math.exp(-t / (2 * tau_s))) / (2 * tau_s * most);
      t += (wanted - share(t)) / slope;
    }
    knots.push(k === KNOTS - 1 ? until_s : t);
  }
  return knots;
}

/** Mean of the readings that lie nearest to each knot; where there are none, that of the knot before. */
function meanNear(knots: readonly number[], runs: FittedRuns["runs"]): number[] {
  const sums = new Float64Array(knots.length);
  const counts = new Float64Array(knots.length);
  for (const { t_s, residual_Pa } of runs) {
    let k = 0;
    for (let i = 0; i < t_s.length; i++) {
      const t = t_s[i] as number;
      while (k + 1 < knots.length && t > ((knots[k] as number) + (knots[k + 1] as number)) / 2) k++;
      sums[k] = (sums[k] as number) + (residual_Pa[i] as number);
      counts[k] = (counts[k] as number) + 1;
    }
  }
  let last = 0;
  return knots.map((_, k) => {
    if ((counts[k] as number) > 0) last = (sums[k] as number) / (counts[k] as number);
    return last;
  });
}
