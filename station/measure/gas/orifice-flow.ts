import { HOUSE_REFERENCE } from "../../../limits/quantity.ts";
import { AIR_GAS_CONSTANT_J_KG_K, airViscosity_Pa_s } from "./dry-air.ts";
import { criticalPressureRatio, isentropicFlux } from "./isentropic-jet.ts";

/** What drives air through an opening. Absolute pressures, upstream the higher. */
export interface Drive {
  readonly upstream_Pa: number;
  readonly downstream_Pa: number;
  /** Of the air upstream. */
  readonly temperature_K: number;
}

/** Below this ratio of downstream to upstream pressure air flows through an orifice at the speed of sound. */
export const CRITICAL_PRESSURE_RATIO = criticalPressureRatio();

/** Choked: a lower pressure downstream lets no more air through. */
export function isChoked({ upstream_Pa, downstream_Pa }: Drive): boolean {
  return downstream_Pa / upstream_Pa <= CRITICAL_PRESSURE_RATIO;
}

/**
 * Mass flow of air through a sharp-edged orifice per discharge coefficient and area, choked where it chokes:
 * p1 / sqrt(Rs T1) sqrt(2k/(k-1) (r^(2/k) - r^((k+1)/k))), r = max(p2/p1, critical ratio).
 * @returns kg/(s m2)
 * @throws RangeError unless pressures and temperature are above zero and downstream does not exceed upstream
 * @example orificeMassFlux_kg_s_m2({ upstream_Pa: 101325, downstream_Pa: 91325, temperature_K: 293.15 }) // 146.75
 * @see Saint-Venant and Wantzel 1839; isentropic nozzle flow in gas dynamics texts; ISO 9300 where it is choked
 */
export function orificeMassFlux_kg_s_m2(drive: Drive): number {
  requireDrive(drive);
  const { upstream_Pa, downstream_Pa, temperature_K } = drive;
  const speed_m_s = Math.sqrt(AIR_GAS_CONSTANT_J_KG_K * temperature_K);
  return (upstream_Pa / speed_m_s) * isentropicFlux(downstream_Pa / upstream_Pa);
}

/** A sharp-edged hole and the air flowing through it. */
export interface SharpEdgedHole {
  readonly diameter_m: number;
  readonly reynolds: number;
}

/**
 * The sharp-edged hole that leaks this much.
 * @param leakRate_m3_s at the house reference (20 degC, 101.325 kPa), above zero
 * @param coefficient discharge coefficient, flow over that of the ideal jet as wide as the hole
 * @throws RangeError where drive, leak rate or coefficient allow no flow
 * @example sharpEdgedHole(1e-6, { upstream_Pa: 101325, downstream_Pa: 93325, temperature_K: 293.15 }, 0.6)
 *   // diameter 0.0001396 m
 */
export function sharpEdgedHole(leakRate_m3_s: number, drive: Drive, coefficient: number): SharpEdgedHole {
  const flux = orificeMassFlux_kg_s_m2(drive);
  if (!(flux > 0) || !(leakRate_m3_s > 0) || !(coefficient > 0)) {
    throw new RangeError("A hole needs a pressure difference, a leak rate and a coefficient above zero.");
  }
  const massFlow_kg_s = massFlowOf(leakRate_m3_s);
  const diameter_m = Math.sqrt((4 * massFlow_kg_s) / (Math.PI * coefficient * flux));
  return { diameter_m, reynolds: reynoldsNumber(massFlow_kg_s, diameter_m, drive.temperature_K) };
}

/** @returns kg/s of air that a leak rate at the house reference is */
export function massFlowOf(leakRate_m3_s: number): number {
  const { temperature_K, pressure_Pa } = HOUSE_REFERENCE;
  return (leakRate_m3_s * pressure_Pa) / (AIR_GAS_CONSTANT_J_KG_K * temperature_K);
}

/** Reynolds number of a flow through a round opening, 4 m / (pi d mu). */
export function reynoldsNumber(massFlow_kg_s: number, diameter_m: number, temperature_K: number): number {
  return (4 * massFlow_kg_s) / (Math.PI * diameter_m * airViscosity_Pa_s(temperature_K));
}

/** @throws RangeError unless pressures and temperature are above zero and downstream does not exceed upstream */
export function requireDrive({ upstream_Pa, downstream_Pa, temperature_K }: Drive): void {
  if (!(downstream_Pa > 0 && upstream_Pa >= downstream_Pa && temperature_K > 0)) {
    throw new RangeError(
      `Air can't flow from ${upstream_Pa} Pa to ${downstream_Pa} Pa absolute at ${temperature_K} K.`,
    );
  }
}
