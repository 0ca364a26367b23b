import { airViscosity_Pa_s, HEAT_RATIO } from "./gas.ts";

/** Sharp-edged plate in a pipe, with taps at D and D/2. */
export interface FlowPlate {
  readonly pipe_m: number;
  readonly bore_m: number;
}

/**
 * The invented fixture's inlet pipe, through which all air comes from the room. What the plate itself takes from the
 * cleaner (some 0.8 kPa of the open point's) is left out: the plenum's suction and the flow are what they are without.
 */
export const INLET_PLATE: FlowPlate = { pipe_m: 0.08, bore_m: 0.048 };

/** Air in front of a plate; moist air's density, and the temperature that its viscosity has. */
export interface AirAtPlate {
  readonly pressure_Pa: number;
  readonly density_kg_m3: number;
  readonly temperature_K: number;
}

/** Lengths from the plate to the taps, in pipe bores; the second from its downstream face. */
const L1 = 1;
const L2 = 0.47;

/**
 * Discharge coefficient of a plate with D and D/2 taps in a pipe of 71.12 mm or more.
 * @param reynolds of the pipe
 * @example dischargeCoefficient({ pipe_m: 0.08, bore_m: 0.048 }, 80000) // 0.61260
 * @see Reader-Harris and Gallagher, ISO 5167-2:2003 equation 4 (from memory, checked against python3-fluids)
 */
export function dischargeCoefficient({ pipe_m, bore_m }: FlowPlate, reynolds: number): number {
  const b = bore_m / pipe_m;
  const million = 1e6 / reynolds;
  const a = ((19_000 * b) / reynolds) ** 0.8;
  const dammed = (2 * L2) / (1 - b);
  const shape = 0.5961 + 0.0261 * b ** 2 - 0.216 * b ** 8;
  const slip = 0.000521 * (b * million) ** 0.7 + (0.0188 + 0.0063 * a) * b ** 3.5 * million ** 0.3;
  const upstream =
    ((0.043 + 0.08 * Math.exp(-10 * L1) - 0.123 * Math.exp(-7 * L1)) * (1 - 0.11 * a) * b ** 4) /
    (1 - b ** 4);
  const downstream = 0.031 * (dammed - 0.8 * dammed ** 1.1) * b ** 1.3;
  return shape + slip + upstream - downstream;
}

/**
 * Pressure drop that this mass flow makes over a plate, Pa.
 * @example plateDrop_Pa({ pipe_m: 0.08, bore_m: 0.048 }, 0.06, { pressure_Pa: 101325, density_kg_m3: 1.2, temperature_K: 293.15 }) // 1062 Pa
 * @see ISO 5167-2:2003, equations 1 and 5 (expansibility), solved for the drop
 */
export function plateDrop_Pa(plate: FlowPlate, massFlow_kg_s: number, air: AirAtPlate): number {
  if (massFlow_kg_s <= 0) return 0;
  const { pipe_m, bore_m } = plate;
  const b4 = (bore_m / pipe_m) ** 4;
  const reynolds = (4 * massFlow_kg_s) / (Math.PI * pipe_m * airViscosity_Pa_s(air.temperature_K));
  const area_m2 = (Math.PI / 4) * bore_m ** 2;
  const massPerRoot =
    (dischargeCoefficient(plate, reynolds) * area_m2 * Math.sqrt(2 * air.density_kg_m3)) / Math.sqrt(1 - b4);
  const incompressible_Pa = (massFlow_kg_s / massPerRoot) ** 2;
  let drop_Pa = incompressible_Pa;
  // The expansibility is near 1 and falls slowly with the drop: each round gains two digits or more.
  for (let round = 0; round < 20; round++) {
    const ratio = (air.pressure_Pa - drop_Pa) / air.pressure_Pa;
    const expansibility = 1 - (0.351 + 0.256 * b4 + 0.93 * b4 ** 2) * (1 - ratio ** (1 / HEAT_RATIO));
    drop_Pa = incompressible_Pa / expansibility ** 2;
  }
  return drop_Pa;
}
