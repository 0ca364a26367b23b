import { Command, Option } from "@commander-js/extra-typings";

/** `drumtight calc leak-cost` */
export function leakCostCommand() {
  return new Command("leak-cost")
    .description("suction that a leak costs at the working point, or the leak that leaves a given suction")
    .requiredOption("--sealed-suction <pressure>", 'of the fan curve at no flow, like "22 kPa"')
    .requiredOption("--open-flow <flow>", 'of the fan curve at no suction, like "68 L/s"')
    .option(
      "--middle-flow <flow>",
      "of one more point of the curve, which bends it; without: a straight line",
    )
    .option("--middle-suction <pressure>", "of that point")
    .option("--working-flow <flow>", "through the inlet of the tight cleaner at its working point")
    .option("--orifice <length>", "or the bore of the orifice it works on")
    .option("--coefficient <number>", "discharge coefficient of the orifice (house default: 0.6)")
    .option("--leak-rate <rate>", 'what costs suction, like "60 mL/min @ 20 degC"')
    .option("--suction-to-remain <pressure>", "or what must be left at the working point: finds the leak")
    .requiredOption(
      "--pressure <pressure>",
      'of the leak test, which the leak rate is stated at: gauge, like "-8 kPa"',
    )
    .addOption(
      new Option(
        "--law <law>",
        "how the leak goes with pressure: fine pores or a hole (without: both)",
      ).choices(["laminar", "orifice"] as const),
    )
    .option("--json", "print one JSON object")
    .addHelpText("after", HELP)
    .action(async ({ json, ...given }) => {
      const { leakCostResult, readGivenCost } = await import("./leak-cost-result.ts");
      const { printResult } = await import("./print-result.ts");
      const { fields, lines } = leakCostResult(readGivenCost(given));
      printResult(json, fields, lines);
    });
}

const HELP = `
Balance, h suction at the inlet, q volume flow, at 1.20 kg/m3 and 20 degC; air with k = 1.4, Rs = 287.05 J/(kg K):
  h_fan(q_inlet(h) + q_leak(h)) = h    the leak lets in air beside the inlet, which the fan has to move too
  fan      h = c0 + c1 q (+ c2 q^2) through the points given
  inlet    sharp edge, m = C e A sqrt(2 h rho), e = 1 - 0.351 (1 - (1 - h/p1)^(1/k)); where a working flow is given, the
           orifice that passes it
  laminar  leak as its leak rate times (p1^2 - p2^2) over that of the leak test: fine pores
  orifice  leak as its leak rate times the ideal jet's flow over that of the leak test: a hole,
           m = C A p1 / sqrt(Rs T) sqrt(2k/(k-1) (r^(2/k) - r^((k+1)/k))), r = p2/p1
Sources: from first principles, balance of fan and system; ISO 5167-2:2003 equation 5 at b = 0 (inlet); compressible
Hagen-Poiseuille; isentropic orifice of Saint-Venant and Wantzel (1839). A real leak lies between the two laws: for a
limit take the smaller leak. The leak comes on top of those that the fan curve was measured with. The leak test is at
20 degC and 101.325 kPa.

Examples:
  $ drumtight calc leak-cost --sealed-suction "22 kPa" --open-flow "68 L/s" --orifice "16.5 mm" --leak-rate "60 mL/min @ 20 degC" --pressure "-8 kPa"
  $ drumtight calc leak-cost --sealed-suction "22 kPa" --open-flow "68 L/s" --working-flow "16 L/s" --suction-to-remain "15 kPa" --pressure "-8 kPa"`;
