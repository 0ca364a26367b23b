import { Command } from "@commander-js/extra-typings";
import { inUnitOfValues } from "./number-option.ts";
import { withReferenceOptions } from "./records-options.ts";

/** `drumtight study stability`: 0 stable, within its tolerance or too little to say; 1 not stable; 2 used wrongly or no study. */
export function stabilityCommand() {
  return withReferenceOptions(new Command("stability"))
    .description(
      "Does the station read its reference pieces as it did before? Charts and drift of checks over time.",
    )
    .argument(
      "[csv]",
      "CSV file with value[,reference][,time], in the order of checking; - for standard input",
    )
    .option("--tolerance <value>", "how far a reading may be off its certified value", inUnitOfValues)
    .option(
      "--lambda <part>",
      "weight of the newest check in the average, above 0 and at most 1 (0.2)",
      inUnitOfValues,
    )
    .option("--of <text>", "what was checked, for titles")
    .option("--unit <text>", "unit of the values, for titles")
    .option("--json", "print one JSON object")
    .option("--html <file>", "write a page to print, too")
    .addHelpText(
      "after",
      `
reference is the certified value of the piece; time a date or a moment (2026-01-05, 2026-01-05T06:00Z; without zone UTC).
With times the drift is per day, without them per check. From records each reference piece at each station is studied for
itself, against its certificate's value and tolerance.

Examples:
  drumtight study stability checks.csv --tolerance 5 --unit mL/min --of "REF-LEAK-TUB-12"
  drumtight study stability --records records --model TUB-12 --characteristic leak_rate --html stability.html
  drumtight study stability checks.csv --json`,
    )
    .action(async (csv, options) => {
      const { studyStability } = await import("./stability.ts");
      process.exitCode = await studyStability(csv, options);
    });
}
