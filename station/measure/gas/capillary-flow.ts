import { HOUSE_REFERENCE } from "../../../limits/quantity.ts";
import { AIR_GAS_CONSTANT_J_KG_K, AIR_HEAT_RATIO, airViscosity_Pa_s } from "./dry-air.ts";
import { type Drive, isChoked, massFlowOf, requireDrive, reynoldsNumber } from "./orifice-flow.ts";

/**
 * Leak rate of air through a capillary: compressible Hagen-Poiseuille, laminar, isothermal, no slip,
 * pV flow = pi r^4 (p1^2 - p2^2) / (16 mu L).
 * @returns m3/s at the house reference (20 degC, 101.325 kPa)
 * @throws RangeError unless pressures, temperature, diameter and length are above zero and downstream does not exceed
 * upstream
 * @example capillaryLeakRate_m3_s(50e-6, 0.01, { upstream_Pa: 111325, downstream_Pa: 101325, temperature_K: 293.15 })
 *   // 8.877e-9, in pV 0.0008994 Pa m3/s at 20 degC
 * @see Hagen-Poiseuille law for an ideal gas, in vacuum technology and fluid mechanics texts
 */
export function capillaryLeakRate_m3_s(diameter_m: number, length_m: number, drive: Drive): number {
  if (!(diameter_m > 0)) throw new RangeError("A capillary needs a diameter above zero.");
  return (diameter_m / 2) ** 4 * leakPerRadius4(length_m, drive);
}

/** A capillary and the air flowing through it, with what tells whether the formula holds. */
export interface Capillary {
  readonly diameter_m: number;
  readonly reynolds: number;
  /** Mean speed at the low end over the speed of sound. */
  readonly exitMach: number;
  /** What laminar flow needs to develop, 0.06 Re d (fluid mechanics texts, from memory). */
  readonly entranceLength_m: number;
  /**
   * Why the formula does not hold for it: the air would leave faster than isothermal flow can, at Mach 1/sqrt(k), and the
   * pressures are far enough apart for air to choke at all; its Reynolds number is above 2000; or it is too short for
   * laminar flow to develop. Nearer pressures never choke a duct, whatever speed the formula gives: friction only lowers
   * the ratio at which an orifice does.
   */
  readonly doubt?: "choked" | "turbulent" | "too short";
}

const CHOKED_MACH = 1 / Math.sqrt(AIR_HEAT_RATIO);
const LAMINAR_REYNOLDS = 2000;

/**
 * The capillary of a given length that leaks this much.
 * @param leakRate_m3_s at the house reference (20 degC, 101.325 kPa), above zero
 * @throws RangeError where drive, leak rate or length allow no flow
 * @example capillaryLeaking(1e-6, 0.003, { upstream_Pa: 101325, downstream_Pa: 93325, temperature_K: 293.15 })
 *   // diameter 0.0001302 m
 */
export function capillaryLeaking(leakRate_m3_s: number, length_m: number, drive: Drive): Capillary {
  const perRadius4 = leakPerRadius4(length_m, drive);
  if (!(perRadius4 > 0) || !(leakRate_m3_s > 0)) {
    throw new RangeError("A capillary needs a pressure difference and a leak rate above zero.");
  }
  const { temperature_K, downstream_Pa } = drive;
  const diameter_m = 2 * (leakRate_m3_s / perRadius4) ** 0.25;
  const massFlow_kg_s = massFlowOf(leakRate_m3_s);
  const reynolds = reynoldsNumber(massFlow_kg_s, diameter_m, temperature_K);
  const exitVolumeFlow_m3_s = (massFlow_kg_s * AIR_GAS_CONSTANT_J_KG_K * temperature_K) / downstream_Pa;
  const sound_m_s = Math.sqrt(AIR_HEAT_RATIO * AIR_GAS_CONSTANT_J_KG_K * temperature_K);
  const exitMach = (4 * exitVolumeFlow_m3_s) / (Math.PI * diameter_m ** 2) / sound_m_s;
  const entranceLength_m = 0.06 * reynolds * diameter_m;
  const found = { diameter_m, reynolds, exitMach, entranceLength_m };
  if (exitMach >= CHOKED_MACH && isChoked(drive)) return { ...found, doubt: "choked" };
  if (reynolds > LAMINAR_REYNOLDS) return { ...found, doubt: "turbulent" };
  return entranceLength_m > length_m ? { ...found, doubt: "too short" } : found;
}

function leakPerRadius4(length_m: number, drive: Drive): number {
  requireDrive(drive);
  if (!(length_m > 0)) throw new RangeError("A capillary needs a length above zero.");
  const { upstream_Pa, downstream_Pa, temperature_K } = drive;
  const squares_Pa2 = (upstream_Pa - downstream_Pa) * (upstream_Pa + downstream_Pa);
  const throughput_Pa_m3_s = (Math.PI * squares_Pa2) / (16 * airViscosity_Pa_s(temperature_K) * length_m);
  const { temperature_K: house_K, pressure_Pa: house_Pa } = HOUSE_REFERENCE;
  return (throughput_Pa_m3_s / house_Pa) * (house_K / temperature_K);
}
