import { Command } from "@commander-js/extra-typings";
import type { FoundAttempt } from "../records/read-attempts.ts";

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
      process.exitCode = await find(serial, options);
    });
}

async function find(serial: string, options: FindOptions): Promise<0 | 1 | 2> {
  const folder = await folderOf(options);
  // All at once: what waits for the disk one by one takes longer.
  const [
    { readAttempts },
    { RecordError },
    { readDispositions },
    { foundAwaited },
    { foundState },
    { checksInForce },
  ] = await Promise.all([
    import("../records/read-attempts.ts"),
    import("../records/record-error.ts"),
    import("../records/read-dispositions.ts"),
    import("../records/found-awaited.ts"),
    import("../records/found-state.ts"),
    import("../records/checks-in-force.ts"),
    ...(options.json ? [] : [import("../records/attempt-text.ts"), import("../flight/tape-path.ts")]),
  ]);
  let unit: Awaited<ReturnType<typeof readAttempts>>;
  let decided: Awaited<ReturnType<typeof readDispositions>>;
  let awaited: Awaited<ReturnType<typeof foundAwaited>>;
  try {
    unit = await readAttempts(folder, serial);
    decided = await readDispositions(folder, serial);
    awaited = await foundAwaited(folder, serial, unit, decided.dispositions);
  } catch (error) {
    if (!(error instanceof RecordError)) throw error;
    process.stderr.write(`${error.message}\n`);
    return 2;
  }
  const isFound = unit.attempts.length + unit.open.length > 0;
  const { dispositions } = decided;
  const state = foundState(serial, unit, dispositions, decided.problem, awaited);
  const checks = await checksInForce(folder, unit.attempts);
  if (options.json) {
    const { attempts, open, gaps } = unit;
    const simulated = attempts.some(({ traveller }) => traveller?.station.simulated);
    process.stdout.write(
      `${JSON.stringify({ serial, state, simulated, attempts, open, gaps, dispositions, reference_checks: [...checks.values()] })}\n`,
    );
  } else if (isFound) {
    const { unitText } = await import("../records/attempt-text.ts");
    const { localOffset } = await import("../records/local-time.ts");
    process.stdout.write(`${unitText(serial, unit, { dispositions, state, checks })}\n`);
    const newest = unit.attempts.findLast(({ traveller }) => traveller)?.traveller ?? unit.open.at(-1);
    if (newest) {
      process.stdout.write(`Times are local: ${localOffset(newest.started_at)} at the newest test.\n`);
    }
    const tapes = await tapesOf(folder, unit.attempts);
    if (tapes.length > 0) {
      process.stdout.write(`Raw conversations, for drumtight gauge replay:\n  ${tapes.join("\n  ")}\n`);
    }
  }
  const changed = unit.attempts.filter(({ problem }) => problem !== null);
  const said = [
    ...(isFound
      ? []
      : [
          `No attempt of ${serial} is recorded in ${folder}: check the serial, or give another --records folder.`,
        ]),
    ...changed.map(
      ({ path, problem }) => `${path} is not as it was recorded: ${problem}. Tell the quality engineer.`,
    ),
    ...(decided.problem === null ? [] : [decided.problem]),
    ...unit.gaps.map(
      (gap) => `Attempts of ${serial} may be missing in ${folder}: ${gap}. Tell the quality engineer.`,
    ),
  ];
  const { escaped } = await import("../../limits/escaped-text.ts");
  process.stderr.write(said.map((line) => `${escaped(line)}\n`).join(""));
  return said.length > 0 ? 1 : 0;
}

/** Reading a station file takes its schema, which a folder's name does not need. */
async function folderOf({ records, station }: FindOptions): Promise<string> {
  if (station === undefined) return records ?? "records";
  const { recordsAt } = await import("./records-at.ts");
  return recordsAt({ station, ...(records === undefined ? {} : { records }) }).folder;
}

/** @returns the attempts' tapes that are still kept */
async function tapesOf(folder: string, attempts: readonly FoundAttempt[]): Promise<readonly string[]> {
  const { existsSync } = await import("node:fs");
  const { join } = await import("node:path");
  const { tapePath } = await import("../flight/tape-path.ts");
  return attempts
    .flatMap(({ traveller }) => {
      if (!traveller) return [];
      const { sequence } = traveller.chain;
      return [join(folder, tapePath({ ...traveller, sequence, attempt: traveller.attempt.number }))];
    })
    .filter((path) => existsSync(path));
}
