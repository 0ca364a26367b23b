import { Command, Option } from "@commander-js/extra-typings";
import { inUnitOfValues } from "./number-option.ts";
import { withRecordsOptions } from "./records-options.ts";

const DISTRIBUTIONS = [
  "auto",
  "normal",
  "lognormal",
  "weibull",
  "gamma",
  "largest-extreme-value",
  "smallest-extreme-value",
] as const;

/** `drumtight study capability`: 0 capable, barely so, or too little to say; 1 not capable; 2 used wrongly or no study. */
export function capabilityCommand() {
  return withRecordsOptions(new Command("capability"))
    .description("Is the process good? Cp, Cpk, Pp, Ppk against limits, of skewed values too.")
    .argument("[csv]", "CSV file with the column value, and subgroup if there are; - for standard input")
    .option("--lower <value>", "lower limit, in the values' unit", inUnitOfValues)
    .option("--upper <value>", "upper limit, in the values' unit", inUnitOfValues)
    .addOption(
      new Option("--distribution <name>", "that the values have")
        .choices(DISTRIBUTIONS)
        .default("auto" as const),
    )
    .addOption(
      new Option("--within <way>", "scatter within subgroups: by their ranges, or pooled").choices([
        "range",
        "pooled",
      ] as const),
    )
    .option("--goal <index>", "Ppk that the process must reach, above 1", inUnitOfValues, 1.33)
    .option("--unit <text>", "unit of the values, for titles")
    .option("--json", "print one JSON object")
    .option("--html <file>", "write a page to print, too")
    .addHelpText(
      "after",
      `
Give the values in the order in which the units were made. Of the distributions, the first in order of AICc that Anderson
and Darling's test does not refuse is taken. By a normal one Ppk = nearest limit from the mean / 3 s; by another one, by
its percentiles (ISO 22514-2): Ppk = (U - X50) / (X99.865 - X50), and so for the lower limit.

Examples:
  drumtight study capability leaks.csv --upper 60 --unit mL/min
  drumtight study capability --records records --model TUB-12 --characteristic leak_rate
  drumtight study capability widths.csv --lower 1 --upper 2 --within range --json`,
    )
    .action(async (csv, options) => {
      const { studyCapability } = await import("./capability.ts");
      process.exitCode = await studyCapability(csv, options);
    });
}
