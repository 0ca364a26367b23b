import type { CheckedDatabase } from "./checked-database.ts";
import { askedUndisturbed, connectToRead } from "./index-file.ts";

/** A folder's index as it is at one moment: what a station adds meanwhile is not seen. */
export interface IndexMoment {
  /** Undefined where there is no index that can be read: the travellers are asked then. */
  readonly database: CheckedDatabase | undefined;
  /** The index is there, and is damaged inside. */
  readonly isSpoilt: boolean;
}

/** An index that can be read as a database, and says what no index says. */
export class SpoiltIndex extends Error {}

/**
 * Asks a folder's index several questions that must agree: all of them in one read transaction, from the beginning again where a
 * station has begun to use it meanwhile. An index that is spoilt inside is found out while it is asked; then everything is asked
 * once more without it, so that no answer is half of the index and half of the files.
 * @throws as `ask`, but for what a spoilt index throws
 */
export async function askedAtOneMoment<T>(
  folder: string,
  ask: (moment: IndexMoment) => Promise<T>,
): Promise<T> {
  try {
    return await askedUndisturbed(folder, async () => {
      const database = connectToRead(folder);
      try {
        database?.exec("BEGIN");
        return await ask({ database, isSpoilt: false });
      } finally {
        database?.close();
      }
    });
  } catch (error) {
    if (!isOfSpoiltIndex(error)) throw error;
    return ask({ database: undefined, isSpoilt: true });
  }
}

/** @returns whether it was thrown for what no index says, or by a database that can't be read */
export function isOfSpoiltIndex(error: unknown): boolean {
  return error instanceof SpoiltIndex || (error instanceof Error && error.name === "SqliteError");
}
