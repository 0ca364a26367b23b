import { Command } from "@commander-js/extra-typings";
import { convertCommand } from "./calc/convert.ts";
import { holeCommand } from "./calc/hole.ts";
import { leakRateCommand } from "./calc/leak-rate.ts";
import { storedEnergyCommand } from "./calc/stored-energy.ts";

/** `drumtight calc`: the engineering calculator; it reads no file and touches no instrument. */
export function calcCommand(): Command {
  return new Command("calc")
    .description("engineering calculator: leak rates, unit conversions, equivalent holes, stored energy")
    .addCommand(leakRateCommand())
    .addCommand(convertCommand())
    .addCommand(holeCommand())
    .addCommand(storedEnergyCommand())
    .addHelpText(
      "after",
      '\nQuantities are written with their unit: "12 L" or 12L, "-8 kPa", "60 mL/min @ 20 degC".\n\nExample:\n  $ drumtight calc convert "90 inH2O" --to kPa',
    );
}
