/** The air of a room. */
export interface RoomAir {
  readonly temperature_K: number;
  readonly pressure_Pa: number;
  /** 0 to 1. */
  readonly relativeHumidity: number;
  /** Mole fraction of carbon dioxide; `USUAL_CO2` where it isn't told. */
  readonly co2?: number;
}

export interface MoistAir {
  readonly density_kg_m3: number;
  /** Of water vapour over water, at this temperature. */
  readonly saturationPressure_Pa: number;
  /** What air adds to the saturation pressure, as a factor a little above one. */
  readonly enhancement: number;
  /** Mole fraction of water vapour. */
  readonly vapourFraction: number;
  readonly compressibility: number;
  /** Why the equation can't be trusted here, a sentence each; empty inside its range. */
  readonly doubts: readonly string[];
}

/** Relative standard uncertainty of the equation itself, inside its range (Picard et al. 2008; from memory). */
export const CIPM_RELATIVE_UNCERTAINTY = 22e-6;
/** Density that flows, suctions and powers of suction cleaners and fans refer to (IEC 62885-2, ISO 5801; from memory). */
export const STANDARD_DENSITY_kg_m3 = 1.2;
/** Mole fraction of carbon dioxide that CIPM-2007 takes where none was measured. */
export const USUAL_CO2 = 400e-6;

const RANGE_PA = [60_000, 110_000] as const;
const RANGE_K = [288.15, 300.15] as const;
const R_J_MOL_K = 8.314472; // CODATA 2006, the equation's own
const WATER_kg_mol = 18.01528e-3;
const ZERO_degC_K = 273.15;

/**
 * Density of moist air by the CIPM-2007 equation, p Ma / (Z R T) [1 - xv (1 - Mv/Ma)].
 * @throws RangeError unless temperature and pressure are above zero, humidity is 0 to 1, and there is more air than
 * vapour and carbon dioxide in it
 * @example moistAir({ temperature_K: 293.15, pressure_Pa: 101325, relativeHumidity: 0.5 }).density_kg_m3 // 1.19931
 * @see Picard, Davis, Glaeser, Fujii, Metrologia 45 (2008) 149-155
 */
export function moistAir(air: RoomAir): MoistAir {
  const { temperature_K: T, pressure_Pa: p, relativeHumidity, co2 = USUAL_CO2 } = air;
  requireAir(air);
  const t = T - ZERO_degC_K;
  const saturationPressure_Pa = Math.exp(
    1.2378847e-5 * T * T - 1.9121316e-2 * T + 33.93711047 - 6.3431645e3 / T,
  );
  const enhancement = 1.00062 + 3.14e-8 * p + 5.6e-7 * t * t;
  const xv = (relativeHumidity * enhancement * saturationPressure_Pa) / p;
  if (!(xv + co2 < 0.5)) {
    throw new RangeError(`Air at ${T} K and ${p} Pa can't be so humid: more vapour and CO2 than air.`);
  }
  const first =
    1.58123e-6 -
    2.9331e-8 * t +
    1.1043e-10 * t * t +
    (5.707e-6 - 2.051e-8 * t) * xv +
    (1.9898e-4 - 2.376e-6 * t) * xv * xv;
  const compressibility = 1 - (p / T) * first + (p / T) ** 2 * (1.83e-11 - 0.765e-8 * xv * xv);
  const dryAir_kg_mol = 28.96546e-3 + 12.011e-3 * (co2 - 0.0004);
  const lighter = 1 - xv * (1 - WATER_kg_mol / dryAir_kg_mol);
  return {
    density_kg_m3: ((p * dryAir_kg_mol) / (compressibility * R_J_MOL_K * T)) * lighter,
    saturationPressure_Pa,
    enhancement,
    vapourFraction: xv,
    compressibility,
    doubts: doubtsOf(air),
  };
}

function requireAir({ temperature_K, pressure_Pa, relativeHumidity, co2 = USUAL_CO2 }: RoomAir): void {
  if (!(temperature_K > 0 && pressure_Pa > 0)) {
    throw new RangeError("Air needs a temperature and a pressure above zero.");
  }
  if (!(relativeHumidity >= 0 && relativeHumidity <= 1)) {
    throw new RangeError(`Relative humidity is a fraction from 0 to 1, is ${relativeHumidity}.`);
  }
  if (!(co2 >= 0 && co2 < 0.5)) {
    throw new RangeError(`The part of carbon dioxide is a fraction below 0.5, is ${co2}.`);
  }
}

function doubtsOf({ temperature_K, pressure_Pa }: RoomAir): string[] {
  const doubts: string[] = [];
  if (!within(temperature_K, RANGE_K)) {
    const t_degC = (temperature_K - ZERO_degC_K).toFixed(1);
    doubts.push(`CIPM-2007 holds from 15 to 27 degC; the air has ${t_degC} degC.`);
  }
  if (!within(pressure_Pa, RANGE_PA)) {
    doubts.push(`CIPM-2007 holds from 60 to 110 kPa; the air has ${(pressure_Pa / 1000).toFixed(2)} kPa.`);
  }
  return doubts;
}

function within(value: number, [least, most]: readonly [number, number]): boolean {
  // A room of 15 degC is inside, whichever way 15 + 273.15 was rounded.
  return value >= least * (1 - 1e-12) && value <= most * (1 + 1e-12);
}
