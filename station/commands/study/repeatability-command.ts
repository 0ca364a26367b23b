import { Command, Option } from "@commander-js/extra-typings";
import { inUnitOfValues, partOfOne } from "./number-option.ts";
import { PLAN_OPTION } from "./planned.ts";
import { withRecordsOptions } from "./records-options.ts";

/** `drumtight study repeatability`: 0 fit or marginal, or nothing to judge by; 1 not fit; 2 used wrongly or no study. */
export function repeatabilityCommand() {
  return withRecordsOptions(new Command("repeatability"))
    .description("Gauge repeatability and reproducibility of a crossed study: is the gauge fit to judge?")
    .argument("[csv]", "CSV file with the columns part,appraiser,trial,value; - for standard input")
    .addOption(
      new Option("--method <method>", "analysis of variance, or average and range")
        .choices(["anova", "range"])
        .default("anova"),
    )
    .addOption(
      new Option(
        "--interaction <what>",
        "part x appraiser: by its p, kept apart, or pooled into repeatability (anova only)",
      )
        .choices(["auto", "keep", "pool"])
        .default("auto"),
    )
    .option(
      "--pool-above <p>",
      "with --interaction auto: pool when its p is above this (AIAG; some take 0.05)",
      partOfOne,
      0.25,
    )
    .addOption(
      new Option("--tolerance <width>", "width of the tolerance, in the values' unit")
        .argParser(inUnitOfValues)
        .conflicts(["lower", "upper"]),
    )
    .option("--lower <limit>", "lower limit, in the values' unit", inUnitOfValues)
    .option("--upper <limit>", "upper limit, in the values' unit", inUnitOfValues)
    .option("--complete-parts-only", "leave out parts that not everybody measured equally often")
    .option(...PLAN_OPTION)
    .option("--unit <text>", "unit of the values, for titles")
    .option("--json", "print one JSON object")
    .option("--html <file>", "write a page to print, too")
    .addHelpText(
      "after",
      `
Every appraiser measures every part the same number of times, twice or more, in random order and without seeing the others'
values. Parts should differ as production does. The answer is by % tolerance where a tolerance or limits are given, else by %
study variation (AIAG, Measurement Systems Analysis, 4th ed.). From records, reference checks are taken: pieces by inspectors.

Examples:
  drumtight study repeatability gauge.csv --tolerance 3 --unit kPa
  drumtight study repeatability gauge.csv --method range --json
  drumtight study repeatability gauge.csv --upper 60 --unit mL/min --html gauge.html
  drumtight study repeatability --records records --model TUB-12 --characteristic leak_rate --upper 60
  drumtight study repeatability --records records --study rr-1.json`,
    )
    .action(async (csv, options) => {
      const { studyGaugeReadings } = await import("./repeatability.ts");
      process.exitCode = await studyGaugeReadings(csv, options);
    });
}
