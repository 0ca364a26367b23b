import { HOUSE_REFERENCE } from "../../../limits/quantity.ts";

/** State of the gas in a volume: absolute pressure and temperature. */
export interface GasState {
  readonly pressure_Pa: number;
  readonly temperature_K: number;
}

export interface PressureChange {
  readonly volume_m3: number;
  readonly start: GasState;
  readonly end: GasState;
  readonly time_s: number;
}

/**
 * Gas that left a fixed volume per time, from its state before and after: dn/dt = V / (R t) (p1/T1 - p2/T2).
 * @returns m3/s at the house reference (20 degC, 101.325 kPa); positive when gas went out, negative when it came in
 * @throws RangeError unless volume, time, absolute pressures and temperatures are above zero
 * @example gasLossRate_m3_s({ volume_m3: 0.012, start: { pressure_Pa: 111325, temperature_K: 293.15 },
 *   end: { pressure_Pa: 111175, temperature_K: 293.05 }, time_s: 20 }) // 6.6358e-7, in pV 0.06724 Pa m3/s at 20 degC
 * @see ideal gas law; 40 CFR 1065.644 (vacuum-decay leak rate) has the same balance
 */
export function gasLossRate_m3_s({ volume_m3, start, end, time_s }: PressureChange): number {
  requirePositive({ volume_m3, time_s });
  requirePositive({ ...start });
  requirePositive({ ...end });
  const lost_Pa_K = start.pressure_Pa / start.temperature_K - end.pressure_Pa / end.temperature_K;
  return atHouseReference(volume_m3, lost_Pa_K, time_s);
}

export interface IsothermalChange {
  readonly volume_m3: number;
  /** How much of the test pressure, over- or underpressure, was lost; negative when it grew. */
  readonly pressureLoss_Pa: number;
  readonly temperature_K: number;
  readonly time_s: number;
}

/**
 * Leak rate from the test pressure lost in a fixed volume at one temperature: q = V dp / t, as pressure times volume.
 * @returns m3/s at the house reference (20 degC, 101.325 kPa), positive when the test pressure is lost
 * @throws RangeError unless volume, time and temperature are above zero
 * @example isothermalLeakRate_m3_s({ volume_m3: 0.012, pressureLoss_Pa: 150, temperature_K: 293.15, time_s: 20 })
 *   // 8.8823e-7, in pV 0.09 Pa m3/s at 20 degC
 * @see ideal gas law
 */
export function isothermalLeakRate_m3_s(change: IsothermalChange): number {
  const { volume_m3, pressureLoss_Pa, temperature_K, time_s } = change;
  requirePositive({ volume_m3, temperature_K, time_s });
  return atHouseReference(volume_m3, pressureLoss_Pa / temperature_K, time_s);
}

/**
 * The fall of pressure that a change of temperature alone makes in a closed volume, p1 (1 - T2/T1).
 * @param start absolute pressure and temperature before
 * @returns Pa, positive when the gas cools
 * @throws RangeError unless pressure and temperatures are above zero
 * @example thermalPressureFall_Pa({ pressure_Pa: 111325, temperature_K: 293.15 }, 293.05) // 37.98
 */
export function thermalPressureFall_Pa(start: GasState, endTemperature_K: number): number {
  requirePositive({ ...start, endTemperature_K });
  return (start.pressure_Pa * (start.temperature_K - endTemperature_K)) / start.temperature_K;
}

function atHouseReference(volume_m3: number, lost_Pa_K: number, time_s: number): number {
  const { temperature_K, pressure_Pa } = HOUSE_REFERENCE;
  return ((volume_m3 * lost_Pa_K) / time_s) * (temperature_K / pressure_Pa);
}

function requirePositive(quantities: Readonly<Record<string, number>>): void {
  for (const [name, value] of Object.entries(quantities)) {
    if (!(value > 0)) throw new RangeError(`${name} must be above zero, is ${value}.`);
  }
}
