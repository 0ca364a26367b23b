import { HOUSE_REFERENCE } from "../../../limits/quantity.ts";
import { STANDARD_DENSITY_kg_m3 } from "../air/moist-air.ts";
import { AIR_GAS_CONSTANT_J_KG_K } from "../gas/dry-air.ts";
import type { DrawnAir } from "./flow-at-point.ts";

/** The room that fan curves and certified flows are stated for: 1.20 kg/m3 at 20 degC. */
export const STANDARD_ROOM: DrawnAir = {
  temperature_K: HOUSE_REFERENCE.temperature_K,
  density_kg_m3: STANDARD_DENSITY_kg_m3,
  pressure_Pa: STANDARD_DENSITY_kg_m3 * AIR_GAS_CONSTANT_J_KG_K * HOUSE_REFERENCE.temperature_K,
};

/** How the speed of a motor with its fan answers to air density and supply voltage: speed ~ (rho/rho0)^d (V/V0)^v. */
export interface SpeedResponse {
  /**
   * d. A series motor finds thinner air easier to move and runs faster: about -1/6 gives the exponents 2/3 of suction and
   * 1/2 of input power, to which the corrections of ASTM F558 are the first order.
   */
  readonly speedPerDensity: number;
  /** v, about 0.55 for a series motor (common practice, no source). */
  readonly speedPerVoltage: number;
}

/** What a test was done at, over standard conditions. */
export interface ConditionRatios {
  /** Air density over 1.20 kg/m3. */
  readonly density: number;
  /** Supply voltage over the nominal. */
  readonly voltage: number;
}

/** What flow, suction and input power as measured are multiplied by. */
export interface StandardFactors {
  readonly flow: number;
  readonly suction: number;
  readonly power: number;
}

/**
 * Factors that bring flow, suction and input power to standard conditions, from first principles: by the fan laws flow goes
 * as speed, suction as density and speed squared, power as density and speed cubed, and the speed goes as `SpeedResponse`
 * says. Efficiency stays what it is.
 * @throws RangeError unless both ratios are above zero
 * @example standardFactors({ density: 0.95, voltage: 1 }, { speedPerDensity: -1 / 6, speedPerVoltage: 0.55 })
 *   // flow 0.99149, suction 1.03479, power 1.02598
 * @see fan laws: ISO 5801 (from memory); with d = -1/6 to first order ASTM F558's Cs and Cp (from memory)
 */
export function standardFactors(ratios: ConditionRatios, response: SpeedResponse): StandardFactors {
  const { density, voltage } = ratios;
  if (!(density > 0 && voltage > 0)) {
    throw new RangeError(`No standard conditions from density ratio ${density}, voltage ratio ${voltage}.`);
  }
  const speed = density ** response.speedPerDensity * voltage ** response.speedPerVoltage;
  return { flow: 1 / speed, suction: 1 / (density * speed ** 2), power: 1 / (density * speed ** 3) };
}
