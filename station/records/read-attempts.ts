import { attemptsAsIndexed } from "./attempts-as-indexed.ts";
import { type Disk, REAL_DISK } from "./disk.ts";
import { askedOf, type SharedIndex } from "./shared-index.ts";
import type { AttemptFacts, Traveller } from "./traveller.ts";

/** An attempt as found on disk, or as the index knows it: what it says, and whether it still is what was recorded. */
export interface FoundAttempt {
  readonly path: string;
  /** Of the file; of what was recorded, where the file is not there any more. */
  readonly sha256: string;
  /** Null where nothing is wrong with the file. */
  readonly problem: string | null;
  /** Null where it is not there or can't be read. Another serial's where the file is named for this one wrongly. */
  readonly traveller: Traveller | null;
}

export interface FoundUnit {
  /** In the order in which they were recorded. */
  readonly attempts: readonly FoundAttempt[];
  /** Begun, and neither recorded nor void yet: under test now, or the station was stopped. */
  readonly open: readonly AttemptFacts[];
  /** Sentences on what is not there and may have been about this serial. */
  readonly gaps: readonly string[];
}

export interface ReadUnit extends FoundUnit {
  /** Whether the index has every record of the folder. */
  readonly indexHasAll: boolean;
}

/**
 * Everything a records folder holds about a serial, read from the files without taking the folder: the station may
 * be running. Where the index and the files it names agree in everything, that is all; wherever they don't, the whole folder is
 * searched, see `searchAttempts`.
 * @param disk which the files that the index names are read from
 * @throws RecordError FOLDER_MISSING, or why it can't be read
 */
export async function readAttempts(
  folder: string,
  serial: string,
  shared?: SharedIndex,
  disk: Disk = REAL_DISK,
): Promise<ReadUnit> {
  const attempts = await byIndex(folder, serial, shared, disk);
  if (attempts !== null) return { attempts, open: [], gaps: [], indexHasAll: true };
  const { searchAttempts } = await import("./search-attempts.ts");
  return { ...(await searchAttempts(folder, serial)), indexHasAll: false };
}

/** @returns null where the folder has to be searched, which also tells why */
async function byIndex(
  folder: string,
  serial: string,
  shared: SharedIndex | undefined,
  disk: Disk,
): Promise<FoundAttempt[] | null> {
  try {
    return await askedOf(folder, shared, (index) =>
      index ? attemptsAsIndexed(folder, serial, index, disk) : null,
    );
  } catch {
    return null;
  }
}
