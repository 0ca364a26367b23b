import { Command } from "@commander-js/extra-typings";

/** `drumtight calc suction-power` */
export function suctionPowerCommand() {
  return new Command("suction-power")
    .description("suction power from flow and suction, and efficiency from the input power")
    .requiredOption("--flow <flow>", 'volume flow of air, like "22.5 L/s" or "80 cfm"')
    .requiredOption(
      "--suction <pressure>",
      'below the room\'s pressure, like "12 kPa"; "-12 kPa" means the same',
    )
    .option("--input-power <power>", 'electric, of the appliance, like "720 W"')
    .option("--json", "print one JSON object")
    .addHelpText("after", HELP)
    .action(async ({ json, ...given }) => {
      const { suctionPowerResult } = await import("./suction-power-result.ts");
      const { printResult } = await import("./print-result.ts");
      const { fields, lines } = suctionPowerResult(given);
      printResult(json, fields, lines);
    });
}

const HELP = `
Formula: P2 = q h, efficiency = P2 / P1; flow in L/s times suction in kPa is power in W.
Source: IEC 62885-2 (from memory); power of a volume flow against a pressure difference.

Flow and suction are taken as measured. At the standard density of 1.20 kg/m3 and the rated voltage they differ.

The air power of ASTM F558 (from memory) is 0.117354 W per cfm and inch of water at 68 degF, which is the same P2.
Inches of another water give another factor: 0.117557 for the conventional inch (1000 kg/m3, inH2O here), and the trade
rounds to 1/8.5 = 0.117647 (common practice, no source).

Example:
  $ drumtight calc suction-power --flow "22.5 L/s" --suction "12 kPa" --input-power "720 W"`;
