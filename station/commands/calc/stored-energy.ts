import { Command } from "@commander-js/extra-typings";

/** `drumtight calc stored-energy` */
export function storedEnergyCommand() {
  return new Command("stored-energy")
    .description("energy stored in a pressurised or evacuated volume of air, by each formula in use")
    .requiredOption("--volume <volume>", 'like "12 L"')
    .requiredOption("--pressure <pressure>", 'gauge, negative for evacuated; or absolute, like "20 kPa abs"')
    .option("--barometer <pressure>", "absolute pressure of the room (house default: 101.325 kPa)")
    .option("--json", "print one JSON object")
    .addHelpText("after", HELP)
    .action(async ({ volume, pressure, barometer, json }) => {
      const options = await import("./quantity-option.ts");
      const { storedEnergies } = await import("../../measure/gas/stored-energy.ts");
      const { printResult, sixDigits } = await import("./print-result.ts");
      const volume_m3 = options.readAboveZero("--volume", volume, "volume");
      const ambient_Pa = options.readBarometer("--barometer", barometer ?? options.DEFAULT_BAROMETER);
      const { absolute_Pa, gauge_Pa } = options.readTestPressure("--pressure", pressure, ambient_Pa);
      const energies = storedEnergies({ volume_m3, pressure_Pa: absolute_Pa, ambient_Pa });
      const largest = energies.reduce((a, b) => (b.energy_J > a.energy_J ? b : a));
      const assumed = barometer === undefined ? ", house default" : "";
      const cautions = cautionsFor(absolute_Pa, ambient_Pa);
      printResult(
        json,
        {
          value: largest.energy_J,
          unit: "J",
          formula: largest.name,
          formulas: energies.map(({ name, formula, energy_J }) => ({
            name,
            formula,
            value: energy_J,
            unit: "J",
          })),
          pressure: { value: absolute_Pa / 1000, unit: "kPa", kind: "absolute" },
          barometer: { value: ambient_Pa / 1000, unit: "kPa", assumed: barometer === undefined },
          cautions,
        },
        [
          `Stored energy of ${volume} at ${sixDigits(gauge_Pa / 1000)} kPa gauge (barometer ${sixDigits(ambient_Pa / 1000)} kPa${assumed})`,
          ...energies.map(
            ({ name, formula, energy_J }) =>
              `  ${name.padEnd(20)}${sixDigits(energy_J).padStart(12)} J   ${formula}`,
          ),
          `Largest: ${largest.name}. The formulas differ widely, so name the one you use.`,
          ...cautions,
        ],
      );
    });
}

function cautionsFor(absolute_Pa: number, ambient_Pa: number): string[] {
  if (absolute_Pa >= ambient_Pa) return [CAUTION];
  return [
    "Evacuated: what the room's air can do when the body collapses, at most |p1 - p0| V.",
    // Where p1 ln(p0/p1) is at its most.
    ...(absolute_Pa < ambient_Pa / Math.E
      ? ["So deep a vacuum makes the isentropic and isothermal formulas fall, to nothing when it is perfect."]
      : []),
    CAUTION,
  ];
}

const CAUTION =
  "Caution: local codes and licensed practice decide what is safe; no number of this software is a safety function.";

const HELP = `
Formulas, p1 absolute pressure inside, p0 barometer, k = 1.4, magnitudes:
  Brode                |p1 - p0| V / (k - 1)
  isentropic (Baker)   p1 V / (k - 1) [1 - (p0/p1)^((k-1)/k)]
  isothermal           p1 V ln(p1/p0)
  net isothermal       p1 V [ln(p1/p0) - 1 + p0/p1], the isothermal one less the work against the room's air
  pV bound             |p1 - p0| V
Source: Brode 1955, Baker et al. 1983 as explosion-safety texts give them (from memory); ideal gas law.
The value of --json is the largest of them, with its formula's name.

${CAUTION}

Example:
  $ drumtight calc stored-energy --volume "12 L" --pressure "10 kPa"`;
