import { AIR_HEAT_RATIO } from "./dry-air.ts";

/** Gas in a volume and the room around it; absolute pressures. */
export interface StoredGas {
  readonly volume_m3: number;
  readonly pressure_Pa: number;
  readonly ambient_Pa: number;
}

export interface StoredEnergy {
  readonly name: "Brode" | "isentropic (Baker)" | "isothermal" | "net isothermal" | "pV bound";
  readonly formula: string;
  readonly energy_J: number;
}

/**
 * Energy stored in a pressurised or evacuated volume of air, by each formula in use. At small pressures they differ
 * by a factor of fifty, so a number means nothing without the formula's name. Magnitudes: for a vacuum it is the
 * work the room's air can do.
 * @returns J, in a fixed order
 * @throws RangeError unless volume and both absolute pressures are above zero
 * @example storedEnergies({ volume_m3: 0.012, pressure_Pa: 111325, ambient_Pa: 101325 })[0].energy_J // 300, Brode
 * @see Brode 1955 and Baker et al. 1983, both as explosion-safety texts give them (from memory); the isothermal
 * ones follow from the ideal gas law, net being what is left after the work against the room's air
 */
export function storedEnergies({ volume_m3, pressure_Pa, ambient_Pa }: StoredGas): readonly StoredEnergy[] {
  if (!(volume_m3 > 0 && pressure_Pa > 0 && ambient_Pa > 0)) {
    throw new RangeError("Stored energy needs a volume and absolute pressures above zero.");
  }
  const gamma = AIR_HEAT_RATIO;
  const content_J = pressure_Pa * volume_m3;
  const bound_J = Math.abs(pressure_Pa - ambient_Pa) * volume_m3;
  const expansion = Math.log(pressure_Pa / ambient_Pa);
  const isentropic_J = (content_J / (gamma - 1)) * Math.expm1((-(gamma - 1) / gamma) * expansion);
  return [
    { name: "Brode", formula: "|p1 - p0| V / (k - 1)", energy_J: bound_J / (gamma - 1) },
    {
      name: "isentropic (Baker)",
      formula: "p1 V / (k - 1) [1 - (p0/p1)^((k-1)/k)]",
      energy_J: Math.abs(isentropic_J),
    },
    { name: "isothermal", formula: "p1 V ln(p1/p0)", energy_J: Math.abs(content_J * expansion) },
    {
      name: "net isothermal",
      formula: "p1 V [ln(p1/p0) - 1 + p0/p1]",
      energy_J: content_J * netExpansion(expansion),
    },
    { name: "pV bound", formula: "|p1 - p0| V", energy_J: bound_J },
  ];
}

/** x - 1 + exp(-x), at small x by its series, where the difference would lose its digits. */
function netExpansion(x: number): number {
  if (Math.abs(x) > 1e-3) return x + Math.expm1(-x);
  return x * x * (1 / 2 - x * (1 / 6 - x * (1 / 24 - x / 120)));
}
