import { Command } from "@commander-js/extra-typings";
import { inUnitOfValues } from "./number-option.ts";
import { withRecordsOptions } from "./records-options.ts";

/** `drumtight study compare`: 0 alike, or different without harm; 1 different; 2 used wrongly or no study. */
export function compareCommand() {
  return withRecordsOptions(new Command("compare"))
    .description(
      "Which cavity or lot is worse, and by how much? Analysis of variance with intervals of all pairs.",
    )
    .argument("[csv]", "CSV file with the columns group and value; - for standard input")
    .option("--lower <value>", "lower limit, in the values' unit", inUnitOfValues)
    .option("--upper <value>", "upper limit, in the values' unit", inUnitOfValues)
    .option("--unit <text>", "unit of the values, for titles")
    .option("--json", "print one JSON object")
    .option("--html <file>", "write a page to print, too")
    .addHelpText(
      "after",
      `
The limits say which side is worse, and how far each mean is from it in the group's own standard deviations. Where the
scatter differs between groups (Brown and Forsythe's test), Welch's test and the pairs of Games and Howell take the place
of analysis of variance and of Tukey and Kramer's.

--by names the groups: a column of the CSV file ("group" if left out), or from records station, shift, day or a tracked part.

Examples:
  drumtight study compare --records records --model TUB-12 --characteristic leak_rate --by tub_cavity
  drumtight study compare leaks.csv --upper 60 --unit mL/min
  drumtight study compare leaks.csv --by cavity --upper 60 --html cavities.html`,
    )
    .action(async (csv, options) => {
      const { studyCompare } = await import("./compare.ts");
      process.exitCode = await studyCompare(csv, options);
    });
}
