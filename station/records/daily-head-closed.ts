import { join } from "node:path";
import { isInterrupted } from "./attempt-intent.ts";
import { readRecord } from "./chain.ts";
import type { HeadsToCheck } from "./daily-head-check.ts";
import { headText, type WrittenHead } from "./daily-head-log.ts";
import { REAL_DISK } from "./disk.ts";
import { RecordError, readError } from "./record-error.ts";
import { Traveller } from "./traveller.ts";

/**
 * Whether nothing was recorded since the station closed with this head, by whoever has the folder and not the station's key.
 * Attempts that were made void for a program that had been cut off are told only: the start that did it may have been cut off,
 * too, before it signed them.
 * @param newest the newest head, which holds
 * @returns a sentence for each such void
 * @throws RecordError CORRUPT where a traveller came since
 */
export async function requireNothingSince(
  { folder, pathOf, disk = REAL_DISK }: HeadsToCheck,
  newest: WrittenHead | null,
): Promise<readonly string[]> {
  if (newest?.content.moment !== "closed") return [];
  const closed = headText(newest.content);
  const told: string[] = [];
  for (let sequence = (newest.content.travellers?.sequence ?? 0) + 1; ; sequence++) {
    const path = pathOf("travellers", sequence);
    if (path === null) return told;
    const file = join(folder, path);
    const bytes = await disk.readFile(file).catch((error: unknown) => {
      throw readError(error, file, `The record ${file} can't be read`);
    });
    const record = readRecord(bytes);
    const traveller = record.ok ? Traveller.safeParse(record.content).data : undefined;
    if (!traveller || !isInterrupted(traveller)) throw unsigned(folder, file, closed);
    told.push(voidedMeanwhile(traveller, path, closed));
  }
}

/** @returns what is wrong with a record that came after the head a station closed with, as a sentence's end */
export function cameMeanwhile(closed: string): string {
  return `it came after ${closed}, with which the station closed, and no head vouches for it`;
}

export function voidedMeanwhile({ serial, attempt }: Traveller, path: string, closed: string): string {
  return `${path} came after ${closed}, with which the station closed: attempt ${attempt.number} of ${serial}, void as cut off. If no test of that unit was cut off, somebody else wrote it.`;
}

function unsigned(folder: string, file: string, closed: string): RecordError {
  return new RecordError(
    "CORRUPT",
    folder,
    `The record ${file} was added while the station was closed: ${cameMeanwhile(closed)}. Nothing is tested on records that somebody else added to. Look with drumtight audit and keep a copy of the folder as evidence, then restore it from a backup; where an engineer knows how it came about, as by a station without daily_head, he answers for it with drumtight audit accept-loss.`,
  );
}
