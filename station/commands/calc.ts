import { Command } from "@commander-js/extra-typings";
import { airDensityCommand } from "./calc/air-density.ts";
import { convertCommand } from "./calc/convert.ts";
import { holeCommand } from "./calc/hole.ts";
import { leakCostCommand } from "./calc/leak-cost.ts";
import { leakRateCommand } from "./calc/leak-rate.ts";
import { orificeCommand } from "./calc/orifice.ts";
import { storedEnergyCommand } from "./calc/stored-energy.ts";
import { suctionPowerCommand } from "./calc/suction-power.ts";

/** `drumtight calc`: the engineering calculator; it reads no file and touches no instrument. */
export function calcCommand(): Command {
  return new Command("calc")
    .description(
      "engineering calculator: leak rates, unit conversions, equivalent holes, stored energy, air density, orifice flow, suction power, what a leak costs",
    )
    .addCommand(leakRateCommand())
    .addCommand(convertCommand())
    .addCommand(holeCommand())
    .addCommand(storedEnergyCommand())
    .addCommand(airDensityCommand())
    .addCommand(orificeCommand())
    .addCommand(suctionPowerCommand())
    .addCommand(leakCostCommand())
    .addHelpText(
      "after",
      '\nQuantities are written with their unit: "12 L" or 12L, "-8 kPa", "60 mL/min @ 20 degC".\n\nExample:\n  $ drumtight calc convert "90 inH2O" --to kPa',
    );
}
