import { join } from "node:path";
import { AttemptEvidence, type ExaminedRecord } from "./attempt-evidence.ts";
import type { Disk } from "./disk.ts";
import { type AttemptSummary, type IndexReader, RecordIndex } from "./index-db.ts";
import { openAttempts } from "./open-attempts-beside.ts";
import type { FoundAttempt, FoundUnit } from "./read-attempts.ts";
import { RecordError } from "./record-error.ts";
import { type RecordContent, readInBatches } from "./record-files.ts";
import { listRecords, mayBeAbout, type RecordFile } from "./record-name.ts";
import { TravellerDisk } from "./traveller-reader.ts";

/**
 * Searches a whole records folder for a serial. Each file is held against its name, the index and its neighbours; what the index
 * has and the folder has not is told. Files that the index does not have are searched for the serial whatever their name.
 * @throws RecordError FOLDER_MISSING, or why it can't be read
 */
export async function searchAttempts(folder: string, serial: string): Promise<FoundUnit> {
  const index = RecordIndex.openToRead(folder);
  if (index === undefined) return gather(folder, serial, undefined);
  try {
    return await gather(folder, serial, index);
  } catch (error) {
    if (error instanceof RecordError) throw error;
    // The index opened, but can't be read further on: the files are the truth.
    return await gather(folder, serial, undefined);
  } finally {
    index.close();
  }
}

async function gather(folder: string, serial: string, index: IndexReader | undefined): Promise<FoundUnit> {
  // In the reverse of the order of writing, so that what is recorded meanwhile is seen twice, not missed: a record in
  // the index is in its file, and an attempt that is not open any more has its file.
  const indexed = index?.history(serial) ?? [];
  const known = index === undefined ? 0 : completeUpTo(index);
  const begun = (await openAttempts(folder)).filter((facts) => facts.serial === serial);
  const files = await listRecords(folder);

  const readable = new TravellerDisk();
  const evidence = new AttemptEvidence(folder, files, index, readable.disk);
  const examined: ExaminedRecord[] = [];
  for (const content of await candidates(folder, serial, { files, indexed, known }, readable.disk)) {
    const seen = await evidence.examine(content);
    const record = { ...seen, problem: readable.problemOf(folder, content.file) ?? seen.problem };
    // Another serial with the same safe name is not meant, unless the file is not as recorded and may be lying.
    const isMeant = record.traveller?.serial === serial;
    if (isMeant || (record.problem !== null && isNamedFor(record.file, serial, indexed)))
      examined.push(record);
  }
  const lost = indexed.filter(
    ({ path, sha256 }) =>
      !files.some((file) => file.path === path) && !examined.some((record) => record.sha256 === sha256),
  );
  const attempts = [...examined.map(found(folder)), ...lost.map(lostAttempt(folder))]
    .sort((a, b) => a.sequence - b.sequence)
    .map(({ attempt }) => attempt);

  const recorded = new Set(lost.map(({ attempt }) => attempt));
  for (const { traveller } of examined) {
    if (traveller?.serial === serial) recorded.add(traveller.attempt.number);
  }
  const open = begun.filter(({ attempt }) => !recorded.has(attempt.number));
  const numbers = await missingNumbers(folder, files, known);
  return {
    attempts,
    open,
    gaps: [...numbers.map(numberGap), ...attemptGaps([...recorded, ...begun.map((it) => it.attempt.number)])],
  };
}

/** @returns the number up to which the index has every record, 0 for one with holes */
function completeUpTo(index: IndexReader): number {
  const { records, head } = index.end();
  return records === head?.sequence ? records : 0;
}

interface Known {
  readonly files: readonly RecordFile[];
  readonly indexed: readonly AttemptSummary[];
  /** Up to this number the index says what each record is about. */
  readonly known: number;
}

/** @returns the files named for the serial or recorded under it, and those unknown to the index that mention it */
async function candidates(folder: string, serial: string, it: Known, disk: Disk): Promise<RecordContent[]> {
  const meant = (file: RecordFile) => isNamedFor(file, serial, it.indexed);
  const mention = Buffer.from(`"serial":${JSON.stringify(serial)}`);
  const contents: RecordContent[] = [];
  const asked = it.files.filter((file) => meant(file) || file.sequence > it.known);
  for await (const batch of readInBatches(folder, asked, disk)) {
    contents.push(...batch.filter(({ file, bytes }) => meant(file) || bytes.includes(mention)));
  }
  return contents;
}

function isNamedFor(file: RecordFile, serial: string, indexed: readonly AttemptSummary[]): boolean {
  return mayBeAbout(file, serial) || indexed.some(({ sequence }) => sequence === file.sequence);
}

interface Numbered {
  readonly sequence: number;
  readonly attempt: FoundAttempt;
}

function found(folder: string): (record: ExaminedRecord) => Numbered {
  return ({ file, sha256, problem, traveller }) => ({
    sequence: file.sequence,
    attempt: { path: join(folder, file.path), sha256, problem, traveller },
  });
}

function lostAttempt(folder: string): (recorded: AttemptSummary) => Numbered {
  return ({ sequence, path, sha256, attempt, verdict }) => ({
    sequence,
    attempt: {
      path: join(folder, path),
      sha256,
      problem: `attempt ${attempt} (${verdict}) was recorded in it, and it is not there any more`,
      traveller: null,
    },
  });
}

interface NumberRange {
  readonly first: number;
  readonly last: number;
}

/** @returns the numbers after `known` that no file has and a later file shows to have been given */
async function missingNumbers(
  folder: string,
  files: readonly RecordFile[],
  known: number,
): Promise<NumberRange[]> {
  const numbers = files.map(({ sequence }) => sequence);
  const missing = gapsIn(numbers, known);
  if (missing.length === 0) return missing;
  // A folder that grows while it is listed may show a record, and not the one before it.
  const again = await listRecords(folder);
  return gapsIn([...numbers, ...again.map(({ sequence }) => sequence)], known);
}

function gapsIn(numbers: readonly number[], after: number): NumberRange[] {
  const gaps: NumberRange[] = [];
  let before = after;
  for (const number of [...numbers].sort((a, b) => a - b)) {
    if (number > before + 1) gaps.push({ first: before + 1, last: number - 1 });
    before = Math.max(before, number);
  }
  return gaps;
}

function numberGap(gap: NumberRange): string {
  return `record number ${rangeText(gap)} is not there, and no index says what it was about`;
}

function attemptGaps(numbers: readonly number[]): string[] {
  return gapsIn(numbers, 0).map(
    (gap) => `attempt ${rangeText(gap)} is not there, though attempt ${gap.last + 1} is`,
  );
}

function rangeText({ first, last }: NumberRange): string {
  return first === last ? `${first}` : `${first} to ${last}`;
}
