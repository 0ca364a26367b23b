import { Command, Option } from "@commander-js/extra-typings";
import { inUnitOfValues } from "./number-option.ts";
import { withRecordsOptions } from "./records-options.ts";

/** `drumtight study chart`: 0 no signal, 1 the process does not stand still, 2 used wrongly or no chart. */
export function chartCommand() {
  return withRecordsOptions(new Command("chart"))
    .description(
      "Does the process stand still? Control charts with run rules, constants for any subgroup size.",
    )
    .argument(
      "[csv]",
      "CSV file with value, subgroup,value or count,size, in the order of making; - for standard input",
    )
    .addOption(
      new Option("--kind <kind>", "which chart")
        .choices(["individuals", "xbar-r", "xbar-s", "ewma", "cusum", "p", "u"])
        .makeOptionMandatory(),
    )
    .option(
      "--target <value>",
      "where the process should stand; the data's own mean if left out",
      inUnitOfValues,
    )
    .option(
      "--sigma <value>",
      "known standard deviation of single values; estimated if left out",
      inUnitOfValues,
    )
    .option(
      "--width <count>",
      "distance of the limits from the centre in standard deviations (3)",
      inUnitOfValues,
    )
    .option("--baseline <count>", "estimate from the first so many points only, apply to all", inUnitOfValues)
    .option("--rules <names>", "run rules, commas between, or all (individuals, xbar, p, u)")
    .option(
      "--lambda <part>",
      "weight of the newest value, above 0 and at most 1 (ewma; 0.2)",
      inUnitOfValues,
    )
    .option("--steady-limits", "the long run's limits from the first point on (ewma)")
    .option(
      "--allowance <value>",
      "K: half of the shift that matters, in the values' unit (cusum; half a sigma)",
      inUnitOfValues,
    )
    .option(
      "--decision <value>",
      "H: sums above it signal, in the values' unit (cusum; five sigma)",
      inUnitOfValues,
    )
    .option("--reset", "begin again at zero after a signal (cusum)")
    .addOption(
      new Option("--per <time>", "from records: a point for each day or shift (xbar, p, u)").choices([
        "day",
        "shift",
      ]),
    )
    .option("--of <text>", "what the values are, for titles")
    .option("--unit <text>", "unit of the values, for titles")
    .option("--json", "print one JSON object")
    .option("--html <file>", "write a page to print, too")
    .addHelpText(
      "after",
      `
  individuals       value             single values and moving ranges
  xbar-r, xbar-s    subgroup,value    means with ranges or standard deviations; sizes may differ
  ewma, cusum       value             finds small shifts that last
  p                 count,size        failing units of so many
  u                 count[,size]      defects on so many units; without size one unit each (c chart)
A column label may name each point (individuals, ewma, cusum, p, u).

From records p counts units that failed of those tested, u all that was found wrong with them; of one characteristic where
--characteristic names it. Points are days unless --per shift, or --by a lot or another part, says otherwise. --by makes a
chart for each group (individuals, ewma, cusum; with --per the others, too).

Run rules, by name or its beginning; "beyond" and "nine" unless you choose:
  beyond a control limit            two of three beyond two sigma
  nine in a row on one side         four of five beyond one sigma
  six in a row rising or falling    fifteen in a row within one sigma
  fourteen in a row alternating     eight in a row beyond one sigma on both sides

Examples:
  drumtight study chart leaks.csv --kind individuals --baseline 25 --rules all --unit mL/min
  drumtight study chart lots.csv --kind xbar-s --html lots.html
  drumtight study chart --records records --model TUB-12 --characteristic leak_rate --kind xbar-s --by day
  drumtight study chart --records records --model TUB-12 --kind p --per day --by tub_cavity
  drumtight study chart days.csv --kind p --json
  drumtight study chart suction.csv --kind cusum --target 20 --allowance 0.1 --decision 1`,
    )
    .action(async (csv, options) => {
      const { studyChart } = await import("./chart.ts");
      process.exitCode = await studyChart(csv, options);
    });
}
