import { fitLine } from "../fit/line-fit.ts";
import { AIR_HEAT_RATIO } from "../gas/dry-air.ts";
import type { DecayCurve } from "./decay-fit.ts";
import type { LeakConditions } from "./leak-rate.ts";
import { leakPerSlope_m3_Pa } from "./leak-slope.ts";

const EARLIEST_SAMPLES = 5;
const LEAST_PRESSURE_KEPT = 0.05;

/**
 * Rate of a leak too large to be measured, from the first samples after the body was shut off: adiabatic pressure change,
 * less what the tight reference's heat does at the same time, carried to the test pressure as an orifice's. An order of
 * magnitude for the repair bench, never judged.
 * @param curve from the shut-off on
 * @returns m3/s at the house reference; null when the body holds so little pressure that even an estimate would mislead
 */
export function estimateGrossLeak(curve: DecayCurve, conditions: LeakConditions): number | null {
  const n = curve.t_s.length;
  const first_Pa = curve.pressure_Pa[0];
  if (first_Pa === undefined || n < 3) return null;
  const kept = first_Pa / conditions.testPressure_Pa;
  if (kept < LEAST_PRESSURE_KEPT) return null;
  const early = Math.min(EARLIEST_SAMPLES, n);
  const { slope } = fitLine(
    Array.prototype.slice.call(curve.t_s, 0, early),
    Array.prototype.slice.call(curve.pressure_Pa, 0, early),
  );
  const { settle } = conditions;
  const heat_Pa_s = settle ? -settle.heat_Pa / settle.tau_s : 0;
  // In the first tenth of a second the gas that stays exchanges no heat: its pressure follows the leak by the heat ratio.
  const leak_Pa_s = Math.abs(slope - heat_Pa_s * kept) / AIR_HEAT_RATIO;
  const perSlope = leakPerSlope_m3_Pa(conditions.volume_m3, conditions.ambientTemperature_K);
  return leak_Pa_s * perSlope * Math.sqrt(1 / kept);
}
