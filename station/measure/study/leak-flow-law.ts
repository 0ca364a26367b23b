import { airViscosity_Pa_s } from "../gas/dry-air.ts";
import { orificeMassFlux_kg_s_m2 } from "../gas/orifice-flow.ts";

/** How a leak's flow follows pressure and temperature: as through a capillary, a sharp-edged hole, or nobody knows. */
export type LeakKind = "capillary" | "orifice" | "unknown";

export interface LeakAir {
  /** Gauge pressure inside; the sign says pressure or suction. */
  readonly gauge_Pa: number;
  /** Absolute pressure outside. */
  readonly outside_Pa: number;
  readonly temperature_K: number;
}

export interface FlowRatio {
  /** Molar flow at `now` over that at `then`. */
  readonly ratio: number;
  /** Standard uncertainty of the ratio: zero where the kind of leak is known. */
  readonly uncertainty: number;
}

/**
 * By how much the flow through one leak changes with the air on both its sides. A capillary passes
 * (p1^2 - p2^2) / (mu T) (laminar, isothermal), a sharp-edged hole the isentropic jet, unchoked or choked. Between
 * the two lies any real leak: of an unknown one the geometric mean is taken, rectangular over the range.
 * @throws RangeError for a gauge pressure of zero, or beyond a vacuum
 * @example flowRatio("capillary", { gauge_Pa: 10e3, ... }, { gauge_Pa: 5e3, ... }) // 0.4882 at 101.325 kPa and one temperature
 * @see EN 13184, annex on conversion between pressures (from memory: laminar q ~ (p1^2 - p2^2) / mu); orifice-flow.ts
 */
export function flowRatio(kind: LeakKind, then: LeakAir, now: LeakAir): FlowRatio {
  const laminar = capillaryFlow(now) / capillaryFlow(then);
  const jet = orificeFlow(now) / orificeFlow(then);
  if (kind === "capillary") return { ratio: laminar, uncertainty: 0 };
  if (kind === "orifice") return { ratio: jet, uncertainty: 0 };
  const ratio = Math.sqrt(laminar * jet);
  return { ratio, uncertainty: (ratio * Math.abs(Math.log(laminar / jet))) / 2 / Math.sqrt(3) };
}

function capillaryFlow({ gauge_Pa, outside_Pa, temperature_K }: LeakAir): number {
  const squares_Pa2 = Math.abs(gauge_Pa * (2 * outside_Pa + gauge_Pa));
  if (!(squares_Pa2 > 0)) throw new RangeError("Without a pressure difference nothing flows.");
  return squares_Pa2 / (airViscosity_Pa_s(temperature_K) * temperature_K);
}

function orificeFlow({ gauge_Pa, outside_Pa, temperature_K }: LeakAir): number {
  const inside_Pa = outside_Pa + gauge_Pa;
  return orificeMassFlux_kg_s_m2({
    upstream_Pa: Math.max(inside_Pa, outside_Pa),
    downstream_Pa: Math.min(inside_Pa, outside_Pa),
    temperature_K,
  });
}
