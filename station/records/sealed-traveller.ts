import { isAscii, isUtf8 } from "node:buffer";
import { type ChainLink, sha256Hex } from "./chain.ts";
import type { IndexedAttempt } from "./index-db.ts";
import { indexedAttempt } from "./indexed-attempt.ts";
import { withoutLeftOut } from "./left-out.ts";
import { isIndexable } from "./sealed-check.ts";
import { FormTexts } from "./stored-values.ts";

/** What a traveller's file says, as far as the record after it, which carries its hash, vouches for its bytes. */
export interface SealedTraveller {
  readonly chain: ChainLink;
  readonly attempt: IndexedAttempt;
}

/**
 * Reads of travellers what the index keeps, at a fifth of what a whole check takes. What is held against the schema is what the
 * index takes and what the verdict rests on, `isIndexable`. The rest is not looked at, because the next record's hash stands for
 * it: whether the text is the canonical one, uncertainty budgets, curves, gauges, most of airflow. So the newest records, which nothing vouches
 * for, are not to be read like this.
 */
export class SealedReader {
  readonly #forms = new FormTexts();

  /** @returns null where a whole check is to say what is the matter, or that nothing is */
  read(bytes: Buffer, path: string): SealedTraveller | null {
    const text = textOf(bytes);
    // Of a half surrogate no text is made, and it can be written in no other way.
    if (text === null || text.includes("\\ud")) return null;
    try {
      const content: unknown = JSON.parse(withoutLeftOut(text));
      if (!isIndexable(content)) return null;
      const { chain } = content;
      return { chain, attempt: indexedAttempt(content, sha256Hex(bytes), path, this.#forms) };
    } catch {
      return null;
    }
  }
}

function textOf(bytes: Buffer): string | null {
  if (isAscii(bytes)) return bytes.toString("latin1");
  return isUtf8(bytes) ? bytes.toString("utf8") : null;
}
