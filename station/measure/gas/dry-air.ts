/** Specific gas constant of dry air, J/(kg K), and its heat capacity ratio. */
export const AIR_GAS_CONSTANT_J_KG_K = 287.05;
export const AIR_HEAT_RATIO = 1.4;

/**
 * Dynamic viscosity of air.
 * @returns Pa s
 * @example airViscosity_Pa_s(293.15) // 1.813e-5
 * @see US Standard Atmosphere 1976, equation 51 (Sutherland)
 */
export function airViscosity_Pa_s(temperature_K: number): number {
  return (1.458e-6 * temperature_K ** 1.5) / (temperature_K + 110.4);
}
