import { Command } from "@commander-js/extra-typings";
import type { GivenChange } from "./given-change.ts";

/** `drumtight calc leak-rate` */
export function leakRateCommand() {
  return new Command("leak-rate")
    .description("leak rate from the change of pressure in a closed volume")
    .requiredOption("--volume <volume>", 'unit and fixture together, like "12 L"')
    .requiredOption("--time <time>", 'from start to end, like "20 s"')
    .option("--pressure-change <pressure>", "test pressure lost at constant temperature; negative: gained")
    .option("--gas-temperature <temperature>", "of the gas, where it is constant (house default: 20 degC)")
    .option("--start-pressure <pressure>", 'absolute; gauge where a barometer is given, unless "100 kPa abs"')
    .option("--end-pressure <pressure>", "the same")
    .option("--start-temperature <temperature>", "of the gas at the start")
    .option("--end-temperature <temperature>", "of the gas at the end")
    .option("--barometer <pressure>", "absolute pressure of the room, throughout")
    .option("--start-barometer <pressure>", "the same, at the start")
    .option("--end-barometer <pressure>", "the same, at the end")
    .option("--to <unit>", 'unit of the answer, like "mL/min @ 20 degC" (else Pa.m3/s)')
    .option("--json", "print one JSON object")
    .addHelpText("after", HELP)
    .action(async ({ json, to, ...given }) => {
      const { readGivenChange } = await import("./given-change.ts");
      const { leakRateResult } = await import("./leak-rate-result.ts");
      const { printResult } = await import("./print-result.ts");
      const change: GivenChange = readGivenChange(given);
      const { fields, lines } = leakRateResult(change, to);
      printResult(json, fields, lines);
    });
}

const HELP = `
Formula: q = V/t (p1/T1 - p2/T2) T, as pressure times volume of gas at T; p1, p2 absolute.
         At constant temperature q = V dp / t.  mL/min @ 20 degC: q at 20 degC, divided by 101.325 kPa.
Source:  ideal gas law, as in 40 CFR 1065.644 (vacuum-decay leak rate). EN 13184 has the same form (from memory).
Sign:    positive when the test pressure is being lost: gas goes out at overpressure, in at vacuum.

Without --to the answer is in Pa.m3/s of gas at its own temperature, where that changed at the one of the start.

Examples:
  $ drumtight calc leak-rate --volume 12L --pressure-change "150 Pa" --time 20s --to "mL/min @ 20 degC"
  $ drumtight calc leak-rate --volume 12L --time 20s --start-pressure "10 kPa" --end-pressure "9.85 kPa" \\
      --barometer "1013.25 hPa" --start-temperature "20 degC" --end-temperature "19.9 degC"`;
