import { readdir } from "node:fs/promises";
import { join } from "node:path";
import { errnoOf, fileError, RecordError } from "./record-error.ts";

/** A record's file, by its name alone. */
export interface RecordFile {
  readonly sequence: number;
  /** Relative to the records folder: "2026/01/05/00000042-A1-1.json". */
  readonly path: string;
}

/** Open-attempt intents and half-written files; hidden, so that no listing takes it for a year. */
export const OPEN_FOLDER = ".open";

const SEQUENCE_DIGITS = 8;
const SAFE_SERIAL_LONGEST = 64;
const RECORD_NAME = /^(\d{8,15})-[A-Za-z0-9._-]+\.json$/;

/**
 * A serial as part of a file name: characters outside A-Z a-z 0-9 . _ - become "_", the rest is cut off. Two
 * serials may get the same one; the sequence number in the name keeps their files apart.
 */
export function safeSerial(serial: string): string {
  const safe = serial.replace(/[^A-Za-z0-9._-]/g, "_").slice(0, SAFE_SERIAL_LONGEST);
  return safe === "" ? "_" : safe;
}

/** @returns "2026/01/05" for a time of that UTC day */
export function dayFolder(wall_ms: number): string {
  return new Date(wall_ms).toISOString().slice(0, 10).replaceAll("-", "/");
}

/** @returns the name a traveller gets in its day's folder: "00000042-A1-1.json" */
export function travellerName(sequence: number, serial: string, attempt: number): string {
  return `${String(sequence).padStart(SEQUENCE_DIGITS, "0")}-${safeSerial(serial)}-${attempt}.json`;
}

/** @returns whether a record of this name may be about this serial (its content decides) */
export function mayBeAbout(file: RecordFile, serial: string): boolean {
  const name = file.path.slice(file.path.lastIndexOf("/") + 1);
  return name.slice(name.indexOf("-") + 1).startsWith(`${safeSerial(serial)}-`);
}

/**
 * Every record of a folder, in order of its sequence number, by name alone; other files are passed over.
 * @throws RecordError FOLDER_MISSING, or NOT_WRITABLE and the like when a folder can't be listed
 */
export async function listRecords(folder: string): Promise<RecordFile[]> {
  const files: RecordFile[] = [];
  for (const year of await namesLike(folder, /^\d{4}$/)) {
    for (const month of await namesLike(join(folder, year), /^\d{2}$/)) {
      for (const day of await namesLike(join(folder, year, month), /^\d{2}$/)) {
        for (const name of await namesLike(join(folder, year, month, day), RECORD_NAME)) {
          files.push({ sequence: Number.parseInt(name, 10), path: `${year}/${month}/${day}/${name}` });
        }
      }
    }
  }
  return files.sort((a, b) => a.sequence - b.sequence);
}

async function namesLike(folder: string, pattern: RegExp): Promise<string[]> {
  try {
    return (await readdir(folder)).filter((name) => pattern.test(name)).sort();
  } catch (error) {
    if (errnoOf(error) === "ENOENT") {
      throw new RecordError("FOLDER_MISSING", folder, `There is no records folder ${folder}.`, {
        cause: error,
      });
    }
    throw fileError(error, folder, `The records folder ${folder} can't be listed`);
  }
}
