import { readdirSync } from "node:fs";
import { Command } from "@commander-js/extra-typings";
import { UsageError } from "../explain.ts";
import type { Disposition } from "../records/disposition.ts";
import type { HeldUnit, UnitInDoubt } from "../records/doubts.ts";
import { readError } from "../records/record-error.ts";
import type { RecordsOptions } from "./records-at.ts";
import type { UnitOnHold } from "./suspects-text.ts";

/** `drumtight suspects`: 0 nothing is in doubt or on hold, 1 units are, 2 used wrongly or cannot run. */
export function suspectsCommand() {
  return new Command("suspects")
    .description(
      "list the units in doubt because the station was not proven when it tested them, and those that somebody holds",
    )
    .option("--records <dir>", 'records folder, instead of the station file\'s; "records" without either')
    .option("--station <file>", "station file, for its records")
    .option("--json", "print one JSON object")
    .addHelpText(
      "after",
      `
When a reference piece reads outside its tolerance, every unit of that model since the piece's last good reading is held:
it does not count as passed until it is tested again, or a supervisor releases it (drumtight release). What somebody holds
(drumtight hold) stays on hold until it is released, whatever is measured. The station may be running.

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
  if (!listed(folder).some((name) => OF_RECORDS.test(name))) {
    throw new UsageError(
      `There are no records in ${folder}: give the station's own with --records or --station; each simulated run has a folder for itself.`,
    );
  }
  const units = (await dispositions.inDoubtOrAwaited()).filter(({ isScrapped }) => !isScrapped);
  const onHold = unitsOnHold(await dispositions.heldByHand());
  const isAny = units.length + onHold.length > 0;
  if (json) {
    const told = { records: folder, units: units.map(toldOf), on_hold: onHold.map(heldOf) };
    process.stdout.write(`${JSON.stringify(told)}\n`);
  } else if (isAny) process.stdout.write(`${suspectsText(units, onHold)}\n`);
  else process.stdout.write(`No unit is in doubt or on hold in ${folder}.\n`);
  return isAny ? 1 : 0;
}

function listed(folder: string): string[] {
  try {
    return readdirSync(folder);
  } catch (error) {
    throw readError(error, folder, `The records folder ${folder} can't be listed`);
  }
}

/** A year's travellers, what was decided, what happened: in every folder that a station has opened. */
const OF_RECORDS = /^(?:[0-9]{4}|dispositions|events|\.station-lock\.db)$/;

function toldOf({ serial, model, verdict, attempt, traveller, holds }: UnitInDoubt) {
  return { serial, model, verdict, attempt, traveller, holds: holds.map(holdTold) };
}

function heldOf({ serial, holds }: UnitOnHold) {
  return { serial, holds: holds.map(holdTold) };
}

/** @returns its number is null where the station has not recorded it yet */
function holdTold({ at, by, reason, reference, chain }: Disposition) {
  return { number: chain.sequence || null, at, by, reason, reference: reference ?? null };
}

/** A unit may be held by several of its tests. */
function unitsOnHold(travellers: readonly HeldUnit[]): UnitOnHold[] {
  const units = new Map<string, Disposition[]>();
  for (const { serial, holds } of travellers) units.set(serial, [...(units.get(serial) ?? []), ...holds]);
  return [...units].map(([serial, holds]) => ({
    serial,
    holds: holds.sort((a, b) => a.chain.sequence - b.chain.sequence),
  }));
}
