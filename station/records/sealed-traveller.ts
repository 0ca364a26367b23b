import { isAscii, isUtf8 } from "node:buffer";
import { type ChainLink, sha256Hex } from "./chain.ts";
import type { IndexedAttempt } from "./index-db.ts";
import { indexedAttempt } from "./indexed-attempt.ts";
import { isIndexable } from "./sealed-check.ts";
import { FormTexts } from "./stored-values.ts";

/** What a traveller's file says, as far as the record after it, which carries its hash, vouches for its bytes. */
export interface SealedTraveller {
  readonly chain: ChainLink;
  readonly attempt: IndexedAttempt;
}

/** Lists of which nothing is in the index, in the order in which a traveller has them; budgets alone are two thirds of it. */
const LEFT_OUT = ['"budget":[', '"curves":[', '"gauges":['];
const LIST_END = "],";

/**
 * Reads of travellers what the index keeps, at a fifth of what a whole check takes. What is held against the schema is what the
 * index takes and what the verdict rests on, `isIndexable`. The rest is not looked at, because the next record's hash stands for
 * it: whether the text is the canonical one, uncertainty budgets, curves, gauges. So the newest records, which nothing vouches
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
      const content: unknown = JSON.parse(withoutLists(text));
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

/**
 * Of a list's objects none has a list, so that it ends with the first bracket but one in a text; and where that one was in a text,
 * what is left is no JSON, since the text's own end is then the beginning of a text `,` with a bare word behind it. A quote in a
 * text has a backslash before it, so no text is taken for a list's beginning.
 */
function withoutLists(text: string): string {
  let rest = "";
  let from = 0;
  for (const list of LEFT_OUT) {
    for (let at = text.indexOf(list, from); at >= 0; at = text.indexOf(list, from)) {
      const end = text.indexOf(LIST_END, at);
      if (end < 0) break;
      rest += text.slice(from, at);
      from = end + LIST_END.length;
    }
  }
  return rest + text.slice(from);
}
