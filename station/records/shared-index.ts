import { type IndexReader, RecordIndex } from "./index-db.ts";
import { askedAtOneMoment } from "./index-moment.ts";

/** A folder's index that several questions are asked of, all of them as it is at one moment. */
export interface SharedIndex {
  /** Undefined where there is none that can be read. */
  readonly index: IndexReader | undefined;
}

/**
 * Reads a folder with its index opened once. It is read from the beginning again where a station started meanwhile, so nothing is
 * printed before the end.
 * @throws as `read`
 */
export function withSharedIndex<T>(folder: string, read: (shared: SharedIndex) => Promise<T>): Promise<T> {
  return askedAtOneMoment(folder, ({ database }) =>
    read({ index: database && RecordIndex.over(folder, database) }),
  );
}

/**
 * Asks the index that is shared, or one that is opened for this question.
 * @throws as `ask`
 */
export async function askedOf<T>(
  folder: string,
  shared: SharedIndex | undefined,
  ask: (index: IndexReader | undefined) => T | Promise<T>,
): Promise<T> {
  if (shared) return ask(shared.index);
  const index = RecordIndex.openToRead(folder);
  try {
    return await ask(index);
  } finally {
    index?.close();
  }
}
