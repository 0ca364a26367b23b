import { Command } from "@commander-js/extra-typings";
import { withRecordsOptions } from "./records-options.ts";

/** `drumtight study values`: 0 printed, 2 used wrongly or there are none. */
export function valuesCommand() {
  return withRecordsOptions(new Command("values"))
    .description("Print recorded values of a characteristic as CSV, for a study or another program.")
    .addHelpText(
      "after",
      `
Columns: group (what --by asks for), value in the limit's unit, serial, and when the test began. Notes on what was left out go
to standard error. Nothing is written, and a station may be testing meanwhile.

Examples:
  drumtight study values --records records --model TUB-12 --characteristic leak_rate --by tub_cavity > leaks.csv
  drumtight study values --station station.yaml --model POD-4 --characteristic "sealed suction" --from 2026-01-01`,
    )
    .action(async (options) => {
      const { printValues } = await import("./values.ts");
      await printValues(options);
    });
}
