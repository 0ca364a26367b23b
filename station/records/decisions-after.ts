import { readdirSync } from "node:fs";
import { join } from "node:path";
import { type ChainHead, linkProblem, readRecord, sha256Hex } from "./chain.ts";
import { readWholeNow } from "./disk.ts";
import type { Disposition } from "./disposition.ts";
import { DISPOSITIONS, logFile, numberOf } from "./numbered-log.ts";
import { errnoOf } from "./record-error.ts";

/** A record's name, where it need not be longer; such names sort by their numbers. */
const OF_EIGHT_DIGITS = /^\d{8}\.json$/;

/** A record that follows the ones before it, whatever it says. */
export interface DecidedLater extends ChainHead {
  readonly bytes: Buffer;
  readonly content: unknown;
}

/**
 * What a folder's log of dispositions has after one that is known, without the folder's lock: a command may be adding to it. The names
 * of all files are looked at, the known one's bytes, and every file after it.
 * @param known null: nothing is, and every file is read
 * @returns in order, each carrying the hash of the one before; null where the numbers have a gap, the known one is not there as it was,
 * one is not canonical or does not follow, or can't be read: the log itself tells which
 */
export function decisionsAfter(folder: string, known: ChainHead | null): DecidedLater[] | null {
  try {
    const count = countWithoutGap(join(folder, DISPOSITIONS));
    if (count === null || count < (known?.sequence ?? 0)) return null;
    if (known && sha256Hex(bytesOf(folder, known.sequence)) !== known.sha256) return null;
    const later: DecidedLater[] = [];
    let head = known;
    for (let sequence = (known?.sequence ?? 0) + 1; sequence <= count; sequence++) {
      const bytes = bytesOf(folder, sequence);
      const record = readRecord(bytes);
      if (!record.ok || linkProblem(record.chain, head) !== null) return null;
      head = { sequence, sha256: record.sha256 };
      later.push({ ...head, bytes, content: record.content });
    }
    return later;
  } catch {
    return null;
  }
}

/** @returns whether each of these files still has the bytes whose hash is known */
export function areAsKnown(folder: string, known: Iterable<ChainHead>): boolean {
  try {
    for (const { sequence, sha256 } of known)
      if (sha256Hex(bytesOf(folder, sequence)) !== sha256) return false;
    return true;
  } catch {
    return false;
  }
}

/**
 * By the schema, whose library takes long to load: only where there is something to read by it.
 * @returns null where one is no disposition that this version of the program knows
 */
export async function asDispositions(records: readonly DecidedLater[]): Promise<Disposition[] | null> {
  if (records.length === 0) return [];
  const { Disposition } = await import("./disposition.ts");
  const dispositions = records.flatMap(({ content }) => Disposition.safeParse(content).data ?? []);
  return dispositions.length === records.length ? dispositions : null;
}

function bytesOf(folder: string, sequence: number): Buffer {
  return readWholeNow(join(folder, logFile(DISPOSITIONS, sequence)));
}

/** @returns how many records there are; null where they are not 1, 2, 3 ..., or one has a name that no record has */
function countWithoutGap(folder: string): number | null {
  const names = listed(folder);
  // Nearly always no others are there; ten thousand are passed over without a thought of the engine's to optimize a loop.
  if (names.every((name) => OF_EIGHT_DIGITS.test(name))) {
    names.sort();
    const [first = "", last = ""] = [names[0], names.at(-1)];
    return names.length === 0 || (numberOf(first) === 1 && numberOf(last) === names.length)
      ? names.length
      : null;
  }
  let [count, highest] = [0, 0];
  for (const name of names) {
    if (!name.endsWith(".json") || name.startsWith(".")) continue;
    const sequence = numberOf(name);
    if (sequence === null) return null;
    count++;
    highest = Math.max(highest, sequence);
  }
  // No two files have one name, and each of these has a number of its own.
  return highest === count ? count : null;
}

/** None where nothing was ever decided. */
function listed(folder: string): string[] {
  try {
    return readdirSync(folder);
  } catch (error) {
    if (errnoOf(error) === "ENOENT") return [];
    throw error;
  }
}
