import { Command } from "@commander-js/extra-typings";

/** `drumtight calc convert QUANTITY --to UNIT` */
export function convertCommand() {
  return (
    new Command("convert")
      .description("convert a quantity into another unit: pressures, flows, leak rates, volumes, times, ...")
      .argument("<quantity...>", 'number and unit, like "1 mL/min @ 0 degC"')
      .requiredOption("--to <unit>", 'unit to convert into, like "Pa.m3/s" or "mL/min @ 20 degC"')
      .option("--json", "print one JSON object")
      // "-22 kPa" is a quantity; what else begins with a dash is refused below.
      .allowUnknownOption()
      .addHelpText("after", HELP)
      .action(async (words, { to, json }) => {
        const { UsageError } = await import("../../explain.ts");
        const unknown = words.find((word) => /^-\D/.test(word) && !/^-\.\d/.test(word));
        if (unknown !== undefined)
          throw new UsageError(`Unknown option ${unknown}; add --help for how to use it.`);
        const { convertText } = await import("../../../limits/convert-text.ts");
        const { formatNumber } = await import("../../../limits/print-quantity.ts");
        const { printResult } = await import("./print-result.ts");
        const text = words.join(" ");
        const converted = convertText(text, to);
        if (!converted.ok) throw new UsageError(converted.sentence);
        const { value, unit, notes } = converted.value;
        printResult(json, { value, unit, from: text, notes }, [
          `${text} = ${formatNumber(value)} ${unit}`,
          ...notes.map((note) => `  ${note}`),
        ]);
      })
  );
}

const HELP = `
Formula: SI value = number x factor of the unit; a leak rate is an amount of gas, n = p V / (R T).
Source:  factors from the exact definitions in NIST SP 811:2008, app. B; R = 8.31446261815324 J/(mol K), SI brochure.

A volume or throughput of gas needs the conditions it is counted at: "@ 0 degC", "@ 20 degC", "@ 20 degC, 100 kPa"
(101.325 kPa when no pressure is said). Without them it converts only into another unit of its own kind, at unchanged
conditions (L/s into cfm, mbar.L/s into Pa.m3/s). A --to without them takes over those of the quantity, where it counts
the same way or is a throughput. sccm, slm, scfm and the like always need theirs; mol/s needs none.
inH2O, mmH2O, inHg are the conventional columns; inH2O@4degC, @20degC, @60degF are those of water at that temperature.

Example:
  $ drumtight calc convert "1 mL/min @ 0 degC" --to "Pa.m3/s"`;
