import { existsSync } from "node:fs";
import { join } from "node:path";
import { escaped } from "../../limits/escaped-text.ts";
import { tapePath } from "../flight/tape-path.ts";
import { unitText } from "../records/attempt-text.ts";
import { checksInForce } from "../records/checks-in-force.ts";
import { WAITING_DISK } from "../records/disk.ts";
import { foundAwaited } from "../records/found-awaited.ts";
import { foundState } from "../records/found-state.ts";
import { localOffset } from "../records/local-time.ts";
import { type FoundAttempt, readAttempts } from "../records/read-attempts.ts";
import { readDispositions } from "../records/read-dispositions.ts";
import { RecordError } from "../records/record-error.ts";
import { type SharedIndex, withSharedIndex } from "../records/shared-index.ts";

/**
 * Prints what the records say of a unit.
 * @returns 0 found, 1 unknown, missing or not as recorded, 2 the folder can't be read
 */
export async function findUnit(folder: string, serial: string, isJson: boolean): Promise<0 | 1 | 2> {
  let found: Awaited<ReturnType<typeof recorded>>;
  try {
    found = await withSharedIndex(folder, (shared) => recorded(folder, serial, shared));
  } catch (error) {
    if (!(error instanceof RecordError)) throw error;
    process.stderr.write(`${error.message}\n`);
    return 2;
  }
  const { unit, decided, awaited, checks } = found;
  const isFound = unit.attempts.length + unit.open.length > 0;
  const { dispositions } = decided;
  const state = foundState(serial, unit, dispositions, decided.problem, awaited);
  if (isJson) {
    const { attempts, open, gaps } = unit;
    const simulated = attempts.some(({ traveller }) => traveller?.station.simulated);
    process.stdout.write(
      `${JSON.stringify({ serial, state, simulated, attempts, open, gaps, dispositions, reference_checks: [...checks.values()] })}\n`,
    );
  } else if (isFound) {
    process.stdout.write(`${unitText(serial, unit, { dispositions, state, checks })}\n`);
    const newest = unit.attempts.findLast(({ traveller }) => traveller)?.traveller ?? unit.open.at(-1);
    if (newest) {
      process.stdout.write(`Times are local: ${localOffset(newest.started_at)} at the newest test.\n`);
    }
    const tapes = tapesOf(folder, unit.attempts);
    if (tapes.length > 0) {
      process.stdout.write(`Raw conversations, for drumtight gauge replay:\n  ${tapes.join("\n  ")}\n`);
    }
  }
  const changed = unit.attempts.filter(({ problem }) => problem !== null);
  const said = [
    ...(isFound ? [] : [await (await import("../records/unknown-serial.ts")).unknownSerial(folder, serial)]),
    ...changed.map(
      ({ path, problem }) => `${path} is not as it was recorded: ${problem}. Tell the quality engineer.`,
    ),
    ...(decided.problem === null ? [] : [decided.problem]),
    ...unit.gaps.map(
      (gap) => `Attempts of ${serial} may be missing in ${folder}: ${gap}. Tell the quality engineer.`,
    ),
  ];
  process.stderr.write(said.map((line) => `${escaped(line)}\n`).join(""));
  return said.length > 0 ? 1 : 0;
}

async function recorded(folder: string, serial: string, shared: SharedIndex) {
  const unit = await readAttempts(folder, serial, shared, WAITING_DISK);
  // After the tests: what is decided meanwhile is seen.
  const decided = await readDispositions(folder, serial, shared);
  const awaited = await foundAwaited(folder, serial, unit, decided.dispositions, shared);
  return { unit, decided, awaited, checks: await checksInForce(folder, unit.attempts, shared, WAITING_DISK) };
}

/** @returns the attempts' tapes that are still kept */
function tapesOf(folder: string, attempts: readonly FoundAttempt[]): readonly string[] {
  return attempts
    .flatMap(({ traveller }) => {
      if (!traveller) return [];
      const { sequence } = traveller.chain;
      return [join(folder, tapePath({ ...traveller, sequence, attempt: traveller.attempt.number }))];
    })
    .filter((path) => existsSync(path));
}
