import { join } from "node:path";
import { type Disk, REAL_DISK } from "./disk.ts";
import { errnoOf, RecordError, readError, requireFolderName } from "./record-error.ts";

/** A record's file, by its name alone. */
export interface RecordFile {
  readonly sequence: number;
  /** Relative to the records folder: "2026/01/05/00000042-A1-1.json". */
  readonly path: string;
}

/** What a traveller says of itself that its file's place and name repeat. */
export interface NamedRecord {
  readonly sequence: number;
  readonly serial: string;
  readonly attempt: number;
  readonly started_at: string;
  readonly ended_at: string | null;
}

/** Open-attempt intents and half-written files; hidden, so that no listing takes it for a year. */
export const OPEN_FOLDER = ".open";

const SEQUENCE_DIGITS = 8;
const SAFE_SERIAL_LONGEST = 64;
/** By its name alone, a file in a day's folder that is a traveller's. */
export const RECORD_NAME = /^(\d{8,15})-[A-Za-z0-9._-]+\.json$/;

/**
 * A serial as part of a file name: characters outside A-Z a-z 0-9 . _ - become "_", the rest is cut off. Two
 * serials may get the same one; the sequence number in the name keeps their files apart.
 */
export function safeSerial(serial: string): string {
  const safe = serial.replace(/[^A-Za-z0-9._-]/g, "_").slice(0, SAFE_SERIAL_LONGEST);
  return safe === "" ? "_" : safe;
}

/**
 * The one place of a traveller in the records folder, from its content alone, so that a file under another name is
 * found out: the UTC day of the attempt's end, of its start where nobody saw the end, then number, serial and attempt.
 * @returns "2026/01/05/00000042-A1-1.json"
 */
export function travellerPath({ sequence, serial, attempt, started_at, ended_at }: NamedRecord): string {
  const number = String(sequence).padStart(SEQUENCE_DIGITS, "0");
  const day = (ended_at ?? started_at).slice(0, "2026-01-05".length).replaceAll("-", "/");
  return `${day}/${number}-${safeSerial(serial)}-${attempt}.json`;
}

/** @returns what is wrong with the place or name of the file `path` that holds this record, null if nothing is */
export function nameProblem(record: NamedRecord, path: string): string | null {
  const own = travellerPath(record);
  if (own === path) return null;
  return `by its content it is record number ${record.sequence}, attempt ${record.attempt} of ${record.serial}, and belongs in ${own}`;
}

/** @returns the number that a record's name, without its folder, begins with */
export function sequenceIn(name: string): number {
  return Number.parseInt(name, 10);
}

/** @returns whether a record of this name may be about this serial (its content decides) */
export function mayBeAbout(file: RecordFile, serial: string): boolean {
  return isNamedFor(file.path.slice(file.path.lastIndexOf("/") + 1), safeSerial(serial));
}

/** @returns whether a record's name, without its folder, carries this safe form of a serial */
export function isNamedFor(name: string, safe: string): boolean {
  return name.startsWith(`${safe}-`, name.indexOf("-") + 1);
}

/** @returns the safe form of the serial that the name of a record's file carries */
export function safeSerialIn(path: string): string {
  const name = path.slice(path.lastIndexOf("/") + 1);
  return name.slice(name.indexOf("-") + 1, name.lastIndexOf("-"));
}

/** @returns the attempt's number, which a record's name ends with */
export function attemptIn({ path }: RecordFile): number {
  return Number.parseInt(path.slice(path.lastIndexOf("-") + 1), 10);
}

/**
 * Every record of a folder, in order of its sequence number, by name alone; other files are passed over.
 * @param isAsked whether the files of a UTC day, "2026-01-05", are listed; all are unless said otherwise
 * @throws RecordError FOLDER_MISSING, or NOT_READABLE and the like when a folder can't be listed
 */
export async function listRecords(
  folder: string,
  disk: Disk = REAL_DISK,
  isAsked: (day: string) => boolean = () => true,
): Promise<RecordFile[]> {
  const files: RecordFile[] = [];
  for await (const day of recordsByDay(folder, disk, isAsked)) files.push(...day);
  return files.sort((a, b) => a.sequence - b.sequence);
}

/**
 * Counts the records of a folder, by name alone, without keeping the names.
 * @returns how many there are, and how many of them have a greater number than this
 * @throws RecordError as `listRecords`
 */
export async function countRecords(
  folder: string,
  after: number,
): Promise<{ readonly records: number; readonly later: number }> {
  let [records, later] = [0, 0];
  for await (const day of recordsByDay(folder, REAL_DISK, () => true)) {
    records += day.length;
    later += day.filter(({ sequence }) => sequence > after).length;
  }
  return { records, later };
}

async function* recordsByDay(
  folder: string,
  disk: Disk,
  isAsked: (day: string) => boolean,
): AsyncGenerator<RecordFile[], void, void> {
  for await (const { day, names } of recordNamesByDay(folder, disk, isAsked)) {
    yield names.map((name) => ({ sequence: sequenceIn(name), path: `${day}/${name}` }));
  }
}

/**
 * @returns the names of each UTC day's records, sorted, with the day's folder: "2026/01/05"
 * @throws RecordError as `listRecords`
 */
export async function* recordNamesByDay(
  folder: string,
  disk: Disk,
  isAsked: (day: string) => boolean,
): AsyncGenerator<{ readonly day: string; readonly names: readonly string[] }, void, void> {
  requireFolderName(folder);
  for (const year of await namesLike(disk, folder, /^\d{4}$/)) {
    for (const month of await namesLike(disk, join(folder, year), /^\d{2}$/)) {
      for (const day of await namesLike(disk, join(folder, year, month), /^\d{2}$/)) {
        if (!isAsked(`${year}-${month}-${day}`)) continue;
        const names = await namesLike(disk, join(folder, year, month, day), RECORD_NAME);
        yield { day: `${year}/${month}/${day}`, names };
      }
    }
  }
}

async function namesLike(disk: Disk, folder: string, pattern: RegExp): Promise<string[]> {
  try {
    return (await disk.readdir(folder)).filter((name) => pattern.test(name)).sort();
  } catch (error) {
    if (errnoOf(error) === "ENOENT") {
      throw new RecordError("FOLDER_MISSING", folder, `There is no records folder ${folder}.`, {
        cause: error,
      });
    }
    throw readError(error, folder, `The records folder ${folder} can't be listed`);
  }
}
