import { Command } from "@commander-js/extra-typings";

type FindOptions = {
  records?: string;
  station?: string;
  json?: true;
};

/** `drumtight find SERIAL`: 0 found, 1 unknown, missing or not as recorded, 2 the folder can't be read. */
export function findCommand(): Command<[string], FindOptions> {
  return new Command("find")
    .description(
      "Show whether a unit may be shipped, and every attempt, read from its travellers, and what was decided about it: values, airflow results, what a failure is suspected of, limits, gauges, parts, the reference check in force, holds, releases, reworks, scrap. The station may be running.",
    )
    .argument("<serial>", "the unit's serial, as scanned")
    .option("--records <dir>", 'records folder, instead of the station file\'s; "records" without either')
    .option("--station <file>", "station file: its records, and its time zone")
    .option("--json", "print one JSON object with the whole travellers")
    .addHelpText(
      "after",
      `
The first line below the serial says how the unit stands by everything that is recorded. Times are local, those in JSON UTC.

Example:
  drumtight find POD000123 --records records`,
    )
    .action(async (serial, options) => {
      // All of it at once: what is looked for on the disk piece by piece takes longer.
      const [folder, { findUnit }] = await Promise.all([folderOf(options), import("./find-unit.ts")]);
      process.exitCode = await findUnit(folder, serial, options.json ?? false);
    });
}

/** Reading a station file takes its schema, which a folder's name does not need. */
async function folderOf({ records, station }: FindOptions): Promise<string> {
  if (station === undefined) return records ?? "records";
  const { recordsAt } = await import("./records-at.ts");
  return recordsAt({ station, ...(records === undefined ? {} : { records }) }).folder;
}
