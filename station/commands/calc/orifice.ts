import { Command, Option } from "@commander-js/extra-typings";

/** `drumtight calc orifice` */
export function orificeCommand() {
  return new Command("orifice")
    .description(
      "flow of air through an orifice: a sharp edge into a plenum, or a plate in a pipe (ISO 5167-2)",
    )
    .requiredOption("--diameter <length>", 'bore of the orifice, like "30 mm"')
    .requiredOption("--pressure-drop <pressure>", 'over the orifice, like "1.5 kPa"')
    .option("--upstream-pressure <pressure>", "absolute (house default: 101.325 kPa)")
    .option("--temperature <temperature>", "of the air upstream (house default: 20 degC)")
    .option("--humidity <humidity>", "relative, of the air upstream (house default: 50 %)")
    .option("--pipe <length>", "inner diameter of the pipe; without it the air comes from a room")
    .addOption(
      new Option("--taps <place>", "where the pressures at a plate in a pipe are taken").choices([
        "corner",
        "flange",
        "d-d2",
      ] as const),
    )
    .option(
      "--coefficient <number>",
      "from a calibration (without: 0.6, a house default; in a pipe ISO 5167-2's)",
    )
    .option("--json", "print one JSON object")
    .addHelpText("after", HELP)
    .action(async ({ json, ...given }) => {
      const { orificeResult, readGivenOrifice } = await import("./orifice-result.ts");
      const { printResult } = await import("./print-result.ts");
      const { fields, lines } = orificeResult(readGivenOrifice(given));
      printResult(json, fields, lines);
    });
}

const HELP = `
Formulas, dp pressure drop, p1 and rho upstream, A bore area, k = 1.4:
  in a pipe       m = C / sqrt(1 - b^4) e A sqrt(2 dp rho), b = bore / pipe, C by Reader-Harris and Gallagher
                  e = 1 - (0.351 + 0.256 b^4 + 0.93 b^8) (1 - r^(1/k)), r = 1 - dp/p1, at least 0.75
  room to plenum  the same with b = 0: m = C e A sqrt(2 dp rho), e = 1 - 0.351 (1 - r^(1/k))
A sharp edge does not choke sharply: it has no ratio at which more suction draws no more air.
Volume flow is m / rho; density by CIPM-2007, viscosity by Sutherland's formula.
Sources: ISO 5167-2:2003 equations 4 and 5, uncertainty by 5.3.3, its limits of use from memory. C 0.6 for a plenum is a
house default: sharp edges have 0.60 to 0.62 in handbooks, those of ASTM F558 from half an inch 0.59 to 0.605 by this formula
(both from memory), and a calibration of your own plate is better. Taps: in the corners, in flanges at 25.4 mm, or at D and D/2.

Examples:
  $ drumtight calc orifice --diameter "30 mm" --pressure-drop "9 kPa"
  $ drumtight calc orifice --diameter "60 mm" --pressure-drop "1 kPa" --pipe "100 mm" --taps corner`;
