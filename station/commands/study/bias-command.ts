import { Command } from "@commander-js/extra-typings";
import { inUnitOfValues } from "./number-option.ts";
import { PLAN_OPTION } from "./planned.ts";
import { withReferenceOptions } from "./records-options.ts";

/** `drumtight study bias`: 0 no bias, or too little to say; 1 biased or not linear; 2 used wrongly or no study. */
export function biasCommand() {
  return withReferenceOptions(new Command("bias"))
    .description("Pieces of known value: does the gauge read off them, and does that change over the range?")
    .argument("[csv]", "CSV file with the columns reference,value; - for standard input")
    .option(
      "--tolerance <width>",
      "also tell biases as parts of this width, in the values' unit",
      inUnitOfValues,
    )
    .option(
      "--range-estimate",
      "also tell each bias with its spread from the range, as AIAG's 3rd edition does",
    )
    .option("--unit <text>", "unit of the values, for titles")
    .option(...PLAN_OPTION)
    .option("--json", "print one JSON object")
    .option("--html <file>", "write a page to print, too")
    .addHelpText(
      "after",
      `
Measure five pieces over the gauge's range, ten times or more each, in random order. With one reference there is its bias
only; with two or more, also the line of bias over reference (AIAG, Measurement Systems Analysis, 4th ed.). From records
each check of a reference piece is held against its certificate.

Examples:
  drumtight study bias references.csv --unit kPa
  drumtight study bias references.csv --tolerance 1.2 --json
  drumtight study bias --records records --model TUB-12 --characteristic leak_rate
  drumtight study bias --records records --study bias.json`,
    )
    .action(async (csv, options) => {
      const { studyBias } = await import("./bias.ts");
      process.exitCode = await studyBias(csv, options);
    });
}
