import { type AirflowState, airflowAt, type Cleaner, type Conditions } from "./airflow.ts";

/** What a cleaner can do over all inlets, from closed to wide open. */
export interface AirflowCurve {
  readonly suctionAtZeroFlow_Pa: number;
  readonly flowAtZeroSuction_m3_s: number;
  readonly largestSuctionPower_W: number;
}

/** As wide as a barrel: some 0.1 Pa of suction are left. */
const NO_ORIFICE_m2 = 0.1;
/** Effective area of the smallest orifice looked at: a bore of 1.4 mm. */
const SMALLEST_m2 = 1e-6;
const STEPS_PER_DECADE = 40;

/**
 * Follows the inlet from closed to no orifice at all. The best suction power is the largest of the orifices looked at,
 * each 6 % larger than the one before: within 0.05 % of the very best, since the hill is flat on top.
 */
export function airflowCurve(cleaner: Cleaner, conditions: Conditions): AirflowCurve {
  const at = (area_m2: number): AirflowState => airflowAt(cleaner, area_m2, conditions);
  let largestSuctionPower_W = 0;
  const decades = Math.log10(NO_ORIFICE_m2 / SMALLEST_m2);
  for (let step = 0; step <= decades * STEPS_PER_DECADE; step++) {
    const { suction_Pa, flow_m3_s } = at(SMALLEST_m2 * 10 ** (step / STEPS_PER_DECADE));
    largestSuctionPower_W = Math.max(largestSuctionPower_W, suction_Pa * flow_m3_s);
  }
  return {
    suctionAtZeroFlow_Pa: at(0).suction_Pa,
    flowAtZeroSuction_m3_s: at(NO_ORIFICE_m2).flow_m3_s,
    largestSuctionPower_W,
  };
}
