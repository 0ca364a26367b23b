import { AIR_HEAT_RATIO } from "./dry-air.ts";

/**
 * The ratio of downstream to upstream pressure at and below which gas leaves an orifice at the speed of sound,
 * (2/(k+1))^(k/(k-1)).
 * @example criticalPressureRatio() // 0.528282, air
 * @see gas dynamics texts; ISO 9300 for an ideal gas
 */
export function criticalPressureRatio(heatRatio = AIR_HEAT_RATIO): number {
  return (2 / (heatRatio + 1)) ** (heatRatio / (heatRatio - 1));
}

/**
 * Mass flow of an isentropic jet per area and sqrt(p1 rho1): sqrt(2k/(k-1) (r^(2/k) - r^((k+1)/k))), r at least the
 * critical ratio, so choked where it chokes.
 * @param ratio downstream over upstream pressure, absolute, 0 to 1
 * @example isentropicFlux(0.9) // 0.42258
 * @see Saint-Venant and Wantzel 1839; isentropic nozzle flow in gas dynamics texts; ISO 9300 where it is choked
 */
export function isentropicFlux(ratio: number, heatRatio = AIR_HEAT_RATIO): number {
  const k = heatRatio;
  const r = Math.max(ratio, criticalPressureRatio(k));
  // r^(2/k) - r^((k+1)/k) = r^(2/k) (1 - r^((k-1)/k)), without the difference of near equals at small pressures
  const expansion = r ** (2 / k) * Math.abs(Math.expm1(((k - 1) / k) * Math.log(r)));
  return Math.sqrt(((2 * k) / (k - 1)) * expansion);
}
