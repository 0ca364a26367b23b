import { readdirSync } from "node:fs";
import { Command } from "@commander-js/extra-typings";
import { UsageError } from "../explain.ts";
import type { UnitInDoubt } from "../records/doubts.ts";
import type { RecordsOptions } from "./records-at.ts";

/** `drumtight suspects`: 0 nothing is in doubt, 1 units are, 2 used wrongly or cannot run. */
export function suspectsCommand() {
  return new Command("suspects")
    .description("list the units in doubt because the station was not proven when it tested them")
    .option("--records <dir>", 'records folder, instead of the station file\'s; "records" without either')
    .option("--station <file>", "station file, for its records")
    .option("--json", "print one JSON object")
    .addHelpText(
      "after",
      `
When a reference piece reads outside its tolerance, every unit of that model since the piece's last good reading is held:
it does not count as passed until it is tested again, or a supervisor releases it (drumtight release). The station may be
running.

Example:
  $ drumtight suspects --records records`,
    )
    .action(async ({ json, ...options }) => {
      process.exitCode = await suspects(options, json === true);
    });
}

async function suspects(options: RecordsOptions, json: boolean): Promise<0 | 1> {
  const { recordsAt } = await import("./records-at.ts");
  const { openDispositions } = await import("../records/dispositions.ts");
  const { suspectsText } = await import("./suspects-text.ts");
  const { folder } = recordsAt(options);
  const dispositions = await openDispositions(folder);
  // That nothing is in doubt must not be said of a folder in which nothing is.
  if (!readdirSync(folder).some((name) => OF_RECORDS.test(name))) {
    throw new UsageError(
      `There are no records in ${folder}: give the station's own with --records or --station; each simulated run has a folder for itself.`,
    );
  }
  const units = (await dispositions.inDoubt()).filter(({ isScrapped }) => !isScrapped);
  if (json) process.stdout.write(`${JSON.stringify({ records: folder, units: units.map(toldOf) })}\n`);
  else if (units.length > 0) process.stdout.write(`${suspectsText(units)}\n`);
  else process.stdout.write(`No unit is in doubt in ${folder}.\n`);
  return units.length > 0 ? 1 : 0;
}

/** A year's travellers, what was decided, what happened: in every folder that a station has opened. */
const OF_RECORDS = /^(?:[0-9]{4}|dispositions|events|\.station-lock\.db)$/;

function toldOf({ serial, model, verdict, attempt, traveller, holds }: UnitInDoubt) {
  return {
    serial,
    model,
    verdict,
    attempt,
    traveller,
    holds: holds.map(({ at, by, reason, reference }) => ({ at, by, reason, reference: reference ?? null })),
  };
}
