import { Command } from "@commander-js/extra-typings";

/** `drumtight calc hole` */
export function holeCommand() {
  return new Command("hole")
    .description("the sharp-edged hole, and the capillary, that leak as much")
    .requiredOption("--leak-rate <rate>", 'with its conditions, like "60 mL/min @ 20 degC"')
    .requiredOption("--pressure <pressure>", 'gauge, negative for suction; or absolute, like "80 kPa abs"')
    .option("--coefficient <number>", "discharge coefficient of the hole (house default: 0.6)")
    .option("--capillary-length <length>", "house default: 3 mm, the wall of a moulded body")
    .option("--barometer <pressure>", "absolute pressure of the room (house default: 101.325 kPa)")
    .option("--gas-temperature <temperature>", "of the air that flows in (house default: 20 degC)")
    .option("--json", "print one JSON object")
    .addHelpText("after", HELP)
    .action(async ({ json, ...given }) => {
      const { holeResult, readGivenLeak } = await import("./hole-result.ts");
      const { printResult } = await import("./print-result.ts");
      const { fields, lines } = holeResult(readGivenLeak(given));
      printResult(json, fields, lines);
    });
}

const HELP = `
Formulas, p1 and p2 absolute, m mass flow of the leak, air with k = 1.4, Rs = 287.05 J/(kg K):
  hole       m = Cd A p1 / sqrt(Rs T) sqrt(2k/(k-1) (r^(2/k) - r^((k+1)/k))), r = p2/p1, at least 0.5283 (choked below)
  capillary  pV flow = pi r^4 (p1^2 - p2^2) / (16 mu L), laminar up to a Reynolds number of 2000
Source: isentropic orifice of Saint-Venant and Wantzel (1839), ISO 9300 where choked; Hagen-Poiseuille for an ideal
gas; viscosity of US Standard Atmosphere 1976. Cd 0.6: sharp edges have 0.60 to 0.62 in handbooks (from memory).

Example:
  $ drumtight calc hole --leak-rate "60 mL/min @ 20 degC" --pressure "-8 kPa"`;
