import { Command, Option } from "@commander-js/extra-typings";
import { inUnitOfValues } from "./number-option.ts";
import { PLAN_OPTION } from "./planned.ts";
import { withReferenceOptions } from "./records-options.ts";

/** `drumtight study type1`: 0 fit, or too little to say; 1 not fit; 2 used wrongly or no study. */
export function type1Command() {
  return withReferenceOptions(new Command("type1"))
    .description("One piece of known value, measured again and again: Cg, Cgk and bias against a tolerance.")
    .argument("[csv]", "CSV file with the column value, in the order measured; - for standard input")
    .option("--reference <value>", "known value of the piece, in the values' unit", inUnitOfValues)
    .option("--tolerance <width>", "width of the tolerance, in the values' unit", inUnitOfValues)
    .addOption(
      new Option("--spread <count>", "standard deviations that count as the gauge's spread")
        .choices(["6", "4"])
        .default("6"),
    )
    .option(
      "--share <percent>",
      "share of the tolerance that the spread may take, in per cent",
      inUnitOfValues,
      20,
    )
    .option("--unit <text>", "unit of the values, for titles")
    .option(...PLAN_OPTION)
    .option("--json", "print one JSON object")
    .option("--html <file>", "write a page to print, too")
    .addHelpText(
      "after",
      `
Cg = share x tolerance / (spread x s); Cgk = (share x tolerance / 2 - |mean - reference|) / (spread / 2 x s). Measure the
piece 25 times at least, better 50, and put it on anew each time. A CSV file needs --reference and --tolerance; from records
the certificate gives the one, and the limits of units the other.

Examples:
  drumtight study type1 readings.csv --reference 6 --tolerance 1.2 --unit kPa
  drumtight study type1 readings.csv --reference 6 --tolerance 1.2 --spread 4 --json
  drumtight study type1 --records records --model TUB-12 --characteristic leak_rate --piece REF-LEAK-TUB-12
  drumtight study type1 --records records --study t1.json --tolerance 25`,
    )
    .action(async (csv, options) => {
      const { studyType1 } = await import("./type1.ts");
      process.exitCode = await studyType1(csv, options);
    });
}
