import { Command } from "@commander-js/extra-typings";

/** `drumtight calc air-density` */
export function airDensityCommand() {
  return new Command("air-density")
    .description("density of the room's moist air, its uncertainty, and how it stands to 1.20 kg/m3")
    .requiredOption("--temperature <temperature>", 'of the air, like "20 degC"')
    .requiredOption("--pressure <pressure>", 'absolute, like "1013 hPa"')
    .requiredOption("--humidity <humidity>", 'relative, like "45 %"')
    .option("--co2 <part>", "mole fraction of carbon dioxide (what CIPM-2007 takes: 400 ppm)")
    .option("--temperature-uncertainty <difference>", 'standard uncertainty, like "0.2 K"')
    .option("--pressure-uncertainty <pressure>", 'standard uncertainty, like "0.5 hPa"')
    .option("--humidity-uncertainty <humidity>", 'standard uncertainty, like "3 %"')
    .option("--json", "print one JSON object")
    .addHelpText("after", HELP)
    .action(async ({ json, ...given }) => {
      const { airDensityResult, readGivenAir } = await import("./air-density-result.ts");
      const { printResult } = await import("./print-result.ts");
      const { fields, lines } = airDensityResult(readGivenAir(given));
      printResult(json, fields, lines);
    });
}

const HELP = `
Formula: density = p Ma / (Z R T) [1 - xv (1 - Mv/Ma)], xv = h f psv / p
  psv  saturation pressure exp(A T^2 + B T + C + D/T)      f  enhancement factor     Z  compressibility
  Ma   28.96546 g/mol + 12.011 g/mol (CO2 - 400 ppm)       Mv 18.01528 g/mol         R  8.314472 J/(mol K)
Source: CIPM-2007, Picard et al., Metrologia 45 (2008) 149-155; from 600 to 1100 hPa and 15 to 27 degC its own relative
standard uncertainty is 22e-6. Those of the readings are combined with it as JCGM 100:2008 (GUM) says.
Viscosity: Sutherland's formula of the US Standard Atmosphere 1976, dry air.
1.20 kg/m3 is the standard density of IEC 62885-2 (from memory).

Example:
  $ drumtight calc air-density --temperature "20 degC" --pressure "1013.25 hPa" --humidity "50 %"`;
