import { join } from "node:path";
import { readRecord } from "./chain.ts";
import type { Disposition } from "./disposition.ts";
import { awaitedHolds, isFailedCheck, type LastTests, withLater } from "./hold-awaited.ts";
import { LAST_RECORDS, RecordIndex } from "./index-db.ts";
import { isOfSpoiltIndex } from "./index-moment.ts";
import { summaryOf } from "./indexed-attempt.ts";
import { readInBatches } from "./record-files.ts";
import { listRecords, mayBeAbout, type RecordFile } from "./record-name.ts";
import type { CheckedTest } from "./suspect-units.ts";
import { Traveller } from "./traveller.ts";
import { TravellerDisk } from "./traveller-reader.ts";
import { type FailedCheck, unreadChecks } from "./unread-checks.ts";

type DispositionsOf = (serial: string) => readonly Disposition[];

/**
 * The holds that a records folder awaits, see `awaitedHolds`, by its index as far as it goes and by the travellers after it. No lock
 * is taken: a station may be running. A traveller that can't be read is passed over, since whoever asks about its unit is told elsewhere;
 * but where it is named for a reference piece, it may be a failed check, and is taken for one.
 * @param readDispositions called once the tests are known
 * @throws RecordError where the folder, or a file, can't be read
 */
export async function awaitedBeside(
  folder: string,
  readDispositions: () => Promise<DispositionsOf> | DispositionsOf,
): Promise<Disposition[]> {
  const index = RecordIndex.openToRead(folder);
  try {
    if (index) {
      const { records, head } = index.end();
      // One with holes may lack the very check.
      if (head && records === head.sequence) {
        return await awaitedBy(folder, index, head.sequence, readDispositions);
      }
    }
  } catch (error) {
    // The files are the truth.
    if (!isOfSpoiltIndex(error)) throw error;
  } finally {
    index?.close();
  }
  return awaitedBy(folder, undefined, 0, readDispositions);
}

async function awaitedBy(
  folder: string,
  index: LastTests | undefined,
  known: number,
  readDispositions: () => Promise<DispositionsOf> | DispositionsOf,
): Promise<Disposition[]> {
  const files = await listRecords(folder);
  const later = index
    ? await testsIn(
        folder,
        files.filter(({ sequence }) => sequence > known),
        index,
      )
    : await testsSinceProven(folder, files);
  const records = withLater(index, later);
  return records.failedChecks().length === 0 ? [] : awaitedHolds(records, await readDispositions());
}

/** @returns what was tested since the last good check of each piece that failed one among the last records; none where none did */
async function testsSinceProven(folder: string, files: readonly RecordFile[]): Promise<CheckedTest[]> {
  const last = await testsIn(folder, files.slice(-LAST_RECORDS));
  const failed = new Map(
    last
      .filter(isFailedCheck)
      .reverse()
      .map(({ serial, sequence }) => [serial, sequence]),
  );
  if (failed.size === 0) return [];
  let from = Number.POSITIVE_INFINITY;
  for (const [piece, sequence] of failed) {
    from = Math.min(from, await lastPassed(folder, files, piece, sequence));
  }
  return testsIn(
    folder,
    files.filter(({ sequence }) => sequence >= from),
  );
}

async function lastPassed(
  folder: string,
  files: readonly RecordFile[],
  piece: string,
  before: number,
): Promise<number> {
  const own = files.filter((file) => file.sequence < before && mayBeAbout(file, piece));
  for (const file of own.reverse()) {
    const [check] = await testsIn(folder, [file]);
    if (!check || check.serial !== piece || check.recordKind !== "reference" || check.draft) continue;
    if (check.verdict === "pass") return check.sequence;
  }
  return 0;
}

/** @param index what else is known of reference pieces */
async function testsIn(
  folder: string,
  files: readonly RecordFile[],
  index?: LastTests,
): Promise<FailedCheck[]> {
  const tests: CheckedTest[] = [];
  const unread: RecordFile[] = [];
  for await (const batch of readInBatches(folder, files, new TravellerDisk().disk)) {
    for (const { file, bytes } of batch) {
      const record = readRecord(bytes);
      const parsed = record.ok ? Traveller.safeParse(record.content) : undefined;
      if (record.ok && parsed?.success) {
        tests.push(summaryOf(parsed.data, record.sha256, join(folder, file.path)));
      } else unread.push(file);
    }
  }
  const checks = unreadChecks(unread, tests, (serial) => index?.history(serial) ?? []);
  return [...tests, ...checks].sort((a, b) => a.sequence - b.sequence);
}
