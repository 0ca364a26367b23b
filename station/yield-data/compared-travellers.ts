import { join } from "node:path";
import { sha256Hex } from "../records/chain.ts";
import { REAL_DISK } from "../records/disk.ts";
import { listRecords, type RecordFile } from "../records/record-name.ts";
import { TravellerReader } from "../records/traveller-reader.ts";
import type { BrokenRecord } from "./read-tests.ts";
import type { YieldIndex } from "./yield-sql.ts";

/** More travellers than these are not read: the index is taken at its word. */
const COMPARED_MOST = 30_000;
const DAY_MS = 86_400_000;
/** A clock may have been put back since the newest record. */
const DAYS_BEFORE_NEWEST = 2;

export interface ComparedTravellers {
  /** How many were read and are as the index has them; null where there were too many. */
  readonly compared: number | null;
  readonly broken: readonly BrokenRecord[];
  /** Numbers of those that the index has, and that count for nothing now. */
  readonly leftOut: readonly number[];
  /** Files of these days and of the newest ones, by number. */
  readonly files: readonly RecordFile[];
}

/**
 * Holds the travellers of a time against the index, each by its SHA-256: changed ones, missing ones, ones that can't be read, and
 * files that nobody recorded.
 * @throws RecordError why the folder can't be read, or NOT_READABLE for a file
 */
export async function comparedTravellers(
  folder: string,
  index: YieldIndex,
  time: { readonly from_ms: number; readonly to_ms: number },
): Promise<ComparedTravellers> {
  const recorded = index.recorded(time, COMPARED_MOST);
  const files = await filesOf(folder, index, recorded && time);
  if (!recorded) return { compared: null, broken: [], leftOut: [], files };
  const byPath = new Map(files.map((file) => [file.path, file]));
  const known = new Map(recorded.map((it) => [it.path, it]));
  const broken: BrokenRecord[] = [];
  const leftOut: number[] = [];
  const leaveOut = (path: string, problem: string, sequence?: number) => {
    broken.push({ path: join(folder, path), problem });
    if (sequence !== undefined) leftOut.push(sequence);
  };
  const present: RecordFile[] = [];
  for (const { path, sequence } of recorded) {
    const file = byPath.get(path);
    if (file) present.push(file);
    else leaveOut(path, "it was recorded and is not there any more", sequence);
  }
  for (const { path, sequence } of files) {
    if (known.has(path) || sequence > index.last || !isIn(dayOf(path), time)) continue;
    const own = index.pathOf(sequence);
    if (own !== path)
      leaveOut(path, `record number ${sequence} was recorded as ${own ?? "nothing"}: this file is none`);
  }
  const reader = new TravellerReader();
  for (const { path, sequence } of present) {
    const read = reader.read(join(folder, path));
    if (!read.ok) leaveOut(path, read.problem, sequence);
    else if (sha256Hex(read.bytes) !== known.get(path)?.sha256)
      leaveOut(path, "it was changed after it was recorded: its SHA-256 is not the recorded one", sequence);
  }
  return { compared: recorded.length - leftOut.length, broken, leftOut, files };
}

/** Of the days asked for, and of the newest ones, in which lies what the index does not have yet. */
async function filesOf(
  folder: string,
  index: YieldIndex,
  time: { readonly from_ms: number; readonly to_ms: number } | null,
): Promise<RecordFile[]> {
  const newest = index.pathOf(index.last);
  const newest_ms = newest === null ? Number.NEGATIVE_INFINITY : Date.parse(dayOf(newest));
  const some = await listRecords(folder, REAL_DISK, (day) => {
    return (time !== null && isIn(day, time)) || Date.parse(day) >= newest_ms - DAYS_BEFORE_NEWEST * DAY_MS;
  });
  const later = some.filter(({ sequence }) => sequence > index.last);
  // Written under a day long gone, by a clock that was wrong.
  const isWhole = later.every(({ sequence }, k) => sequence === index.last + 1 + k);
  return isWhole ? some : listRecords(folder);
}

/** @returns the UTC day of the folder that a record lies in */
function dayOf(path: string): string {
  return path.slice(0, "2026/01/05".length).replaceAll("/", "-");
}

function isIn(
  day: string,
  { from_ms, to_ms }: { readonly from_ms: number; readonly to_ms: number },
): boolean {
  const begin_ms = Date.parse(day);
  return begin_ms < to_ms && begin_ms + DAY_MS > from_ms;
}
