/** Air as the plant knows it: an ideal gas with constant heats, and its flow through small openings. */

/** Specific gas constant of dry air, J/(kg K), and heat capacity ratio. */
export const GAS_CONSTANT_J_kgK = 287.05;
export const HEAT_RATIO = 1.4;

/** The house reference for leak rates: 293.15 K, 101325 Pa. */
export const REFERENCE_TEMPERATURE_K = 293.15;
export const REFERENCE_PRESSURE_Pa = 101_325;

/** Density that fan curves are stated at (IEC 62885-2, ISO 5801: 1.20 kg/m3). */
export const STANDARD_DENSITY_kg_m3 = 1.2;

const CRITICAL_RATIO = (2 / (HEAT_RATIO + 1)) ** (HEAT_RATIO / (HEAT_RATIO - 1));
/** Molar mass of water over that of dry air. */
const VAPOUR_TO_AIR = 18.015 / 28.965;
const SUBSONIC_FACTOR = (2 * HEAT_RATIO) / (HEAT_RATIO - 1);

/**
 * Mass flow through a small sharp orifice, kg/s, choked where it chokes (air: below p2/p1 = 0.528).
 * @param effectiveArea_m2 discharge coefficient times area
 * @param upstream_Pa absolute, the higher of the two
 * @param downstream_Pa absolute
 * @example orificeMassFlow(0.62 * Math.PI / 4 * 0.001 ** 2, 101325, 91325, 293.15) // 7.146e-5 kg/s
 * @see Saint-Venant and Wantzel 1839; in any gas dynamics text as isentropic nozzle flow
 */
export function orificeMassFlow(
  effectiveArea_m2: number,
  upstream_Pa: number,
  downstream_Pa: number,
  upstream_K: number,
): number {
  const ratio = Math.max(downstream_Pa / upstream_Pa, CRITICAL_RATIO);
  if (ratio >= 1) return 0;
  const root = ratio ** (1 / HEAT_RATIO);
  const expansion = Math.sqrt(SUBSONIC_FACTOR * (root * root - ratio * root));
  return ((effectiveArea_m2 * upstream_Pa) / Math.sqrt(GAS_CONSTANT_J_kgK * upstream_K)) * expansion;
}

/**
 * Mass flow of a measuring orifice with a sharp edge, in a space much wider than its bore, kg/s: A Y sqrt(2 rho1 dp) with
 * Y = 1 - 0.41 dp / (k p1). Behind the edge the jet contracts less as the drop grows, so that it passes more than an
 * isentropic one.
 * @param effectiveArea_m2 discharge coefficient times area
 * @param upstream_Pa absolute, the higher of the two; temperature likewise
 * @example sharpEdgeMassFlow(0.62 * Math.PI / 4 * 0.03 ** 2, 101325, 92325, 293.15) // 0.062842 kg/s
 * @see Buckingham's expansion factor, 1 - (0.41 + 0.35 b^4) dp / (k p1), as ASME and AGA plates have it (from memory), at b = 0
 */
export function sharpEdgeMassFlow(
  effectiveArea_m2: number,
  upstream_Pa: number,
  downstream_Pa: number,
  upstream_K: number,
): number {
  const drop_Pa = upstream_Pa - downstream_Pa;
  if (drop_Pa <= 0) return 0;
  const expansion = 1 - (0.41 * drop_Pa) / (HEAT_RATIO * upstream_Pa);
  return effectiveArea_m2 * expansion * Math.sqrt(2 * airDensity_kg_m3(upstream_Pa, upstream_K) * drop_Pa);
}

/**
 * Mass flow through a capillary, kg/s: compressible Hagen-Poiseuille, laminar, no slip, isothermal. Throughput
 * is pi r^4 (p1^2 - p2^2) / (16 mu L); mass flow is that over R T.
 * @example capillaryMassFlow(50e-6, 0.02, 101325, 91325, 293.15) // 7.747e-8 kg/s
 */
export function capillaryMassFlow(
  radius_m: number,
  length_m: number,
  upstream_Pa: number,
  downstream_Pa: number,
  temperature_K: number,
): number {
  const squares = upstream_Pa * upstream_Pa - downstream_Pa * downstream_Pa;
  const throughput = (Math.PI * radius_m ** 4 * squares) / (16 * airViscosity_Pa_s(temperature_K) * length_m);
  return throughput / (GAS_CONSTANT_J_kgK * temperature_K);
}

/** Dynamic viscosity of air, Pa s. @see US Standard Atmosphere 1976, equation 51 (Sutherland) */
export function airViscosity_Pa_s(temperature_K: number): number {
  return (1.458e-6 * temperature_K * Math.sqrt(temperature_K)) / (temperature_K + 110.4);
}

/**
 * Part pressure of the water vapour in air of this relative humidity (0 to 1), Pa.
 * @example vapourPressure_Pa(293.15, 101325, 0.5) // 1174 Pa
 * @see Buck, Journal of Applied Meteorology 20 (1981) 1527-1532: 611.21 Pa exp(17.502 t / (240.97 degC + t)) and its
 * enhancement factor (from memory)
 */
export function vapourPressure_Pa(
  temperature_K: number,
  pressure_Pa: number,
  relativeHumidity: number,
): number {
  const t_degC = temperature_K - 273.15;
  const enhancement = 1.0007 + 3.46e-8 * pressure_Pa;
  return relativeHumidity * enhancement * 611.21 * Math.exp((17.502 * t_degC) / (240.97 + t_degC));
}

/**
 * Temperature at which dry air would be as light as this moist air, K. In every formula here gas constant and
 * temperature stand as one product, so that moist air is dry air of this temperature.
 * @param relativeHumidity 0 to 1
 * @example virtualTemperature_K(293.15, 101325, 0.5) // 294.44 K
 * @see any meteorology text, virtual temperature: T / (1 - (1 - 18.015 / 28.965) e / p)
 */
export function virtualTemperature_K(
  temperature_K: number,
  pressure_Pa: number,
  relativeHumidity: number,
): number {
  const vapour = vapourPressure_Pa(temperature_K, pressure_Pa, relativeHumidity) / pressure_Pa;
  return temperature_K / (1 - (1 - VAPOUR_TO_AIR) * vapour);
}

/** Density of air as an ideal gas, kg/m3; of moist air, given its virtual temperature. */
export function airDensity_kg_m3(pressure_Pa: number, temperature_K: number): number {
  return pressure_Pa / (GAS_CONSTANT_J_kgK * temperature_K);
}

/** A mass flow as volume flow at the house reference, m3/s. */
export function atReference_m3_s(massFlow_kg_s: number): number {
  return (massFlow_kg_s * GAS_CONSTANT_J_kgK * REFERENCE_TEMPERATURE_K) / REFERENCE_PRESSURE_Pa;
}
