import { dirname, join } from "node:path";
import { readRecord, sha256Hex } from "./chain.ts";
import type { Disk } from "./disk.ts";
import type { AttemptSummary, IndexReader } from "./index-db.ts";
import type { FoundAttempt } from "./read-attempts.ts";
import { errnoOf } from "./record-error.ts";
import {
  isNamedFor,
  OPEN_FOLDER,
  recordNamesByDay,
  safeSerial,
  sequenceIn,
  travellerPath,
} from "./record-name.ts";
import type { Traveller } from "./traveller.ts";

/**
 * A unit's attempts by its index, without listing the folder: as many files are read as it has attempts, and as many again that
 * vouch for them. The index is believed where the files bear it out: it has every number up to its last and no gap in the unit's
 * attempts; each file is at its place under its name, with the SHA-256 that was recorded; so has the file after it, which carries
 * that SHA-256. A file that nothing follows yet is read by its schema. No file of the days in question bears the serial's name and
 * is not in the index, no record is newer than the index, and no attempt is under way.
 * @returns in the order in which they were recorded; null where anything is otherwise or the index does not know the serial, so
 *   that the whole folder has to be searched
 * @throws whatever a file can't be read for
 */
export async function attemptsAsIndexed(
  folder: string,
  serial: string,
  index: IndexReader,
  disk: Disk,
): Promise<FoundAttempt[] | null> {
  // In the reverse of the order of writing, as `searchAttempts`: what is recorded meanwhile is then seen as newer than the index.
  const indexed = index.history(serial).sort((a, b) => a.sequence - b.sequence);
  const { records, last } = index.countedEnd();
  if (indexed.length === 0 || records !== last) return null;
  if (hasGap(indexed.map(({ attempt }) => attempt))) return null;
  if (indexed.some((row) => row.path !== travellerPath(row))) return null;
  if (await isUnderTest(folder, serial, disk)) return null;

  const attempts: FoundAttempt[] = [];
  for (const row of indexed) {
    const traveller = await asRecorded(folder, row, index, disk);
    if (traveller === null) return null;
    attempts.push({ path: join(folder, row.path), sha256: row.sha256, problem: null, traveller });
  }
  const newestDay = dayOf(index.bySequence(last)?.path ?? "");
  const days = new Set(indexed.map(({ path }) => dayOf(path)));
  const known = new Set(indexed.map(({ path }) => path));
  const safe = safeSerial(serial);
  const isAsked = (day: string) => day >= newestDay || days.has(day);
  for await (const { day, names } of recordNamesByDay(folder, disk, isAsked)) {
    const isOdd = names.some(
      (name) => sequenceIn(name) > last || (isNamedFor(name, safe) && !known.has(`${day}/${name}`)),
    );
    if (isOdd) return null;
  }
  return attempts;
}

/** @example dayOf("2026/01/05/00000042-A1-1.json") // "2026-01-05" */
function dayOf(path: string): string {
  return dirname(path).replaceAll("/", "-");
}

/** @returns whether the numbers are not 1, 2, 3 ... */
function hasGap(numbers: readonly number[]): boolean {
  return [...numbers].sort((a, b) => a - b).some((number, at) => number !== at + 1);
}

/** @returns null where the file or the one after it is not what the index says */
async function asRecorded(
  folder: string,
  row: AttemptSummary,
  index: IndexReader,
  disk: Disk,
): Promise<Traveller | null> {
  const bytes = await readIfThere(join(folder, row.path), disk);
  if (bytes === null || sha256Hex(bytes) !== row.sha256) return null;
  const next = index.bySequence(row.sequence + 1);
  if (!next) {
    // Nothing but the index vouches for it, which anybody may have made.
    const { Traveller } = await import("./traveller.ts");
    const record = readRecord(bytes);
    const parsed = record.ok ? Traveller.safeParse(record.content) : undefined;
    return parsed?.success && isOf(parsed.data, row) ? parsed.data : null;
  }
  const nextBytes = await readIfThere(join(folder, next.path), disk);
  if (nextBytes === null || sha256Hex(nextBytes) !== next.sha256) return null;
  const following = readRecord(nextBytes);
  if (!following.ok || following.chain.sequence !== next.sequence) return null;
  if (following.chain.previous !== row.sha256) return null;
  // What was recorded was a traveller, and this is what was recorded.
  const traveller = JSON.parse(bytes.toString("utf8")) as Traveller;
  return isOf(traveller, row) ? traveller : null;
}

function isOf({ serial, attempt, chain }: Traveller, row: AttemptSummary): boolean {
  return serial === row.serial && attempt.number === row.attempt && chain.sequence === row.sequence;
}

/** @returns whether a note of an open attempt speaks of the serial */
async function isUnderTest(folder: string, serial: string, disk: Disk): Promise<boolean> {
  const mention = Buffer.from(`"serial":${JSON.stringify(serial)}`);
  for (const name of await namesIn(join(folder, OPEN_FOLDER), disk)) {
    if (!name.endsWith(".json")) continue;
    // One that vanishes meanwhile has been recorded, and is newer than the index was.
    const note = await readIfThere(join(folder, OPEN_FOLDER, name), disk);
    if (note?.includes(mention)) return true;
  }
  return false;
}

async function namesIn(folder: string, disk: Disk): Promise<string[]> {
  return (await unlessMissing(disk.readdir(folder))) ?? [];
}

function readIfThere(path: string, disk: Disk): Promise<Buffer | null> {
  return unlessMissing(disk.readFile(path));
}

async function unlessMissing<T>(reading: Promise<T>): Promise<T | null> {
  try {
    return await reading;
  } catch (error) {
    if (errnoOf(error) === "ENOENT") return null;
    throw error;
  }
}
