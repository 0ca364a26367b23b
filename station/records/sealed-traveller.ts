import { isUtf8 } from "node:buffer";
import { type ChainLink, sha256Hex } from "./chain.ts";
import { type IndexedAttempt, indexedAttempt } from "./index-db.ts";
import { FormTexts } from "./stored-values.ts";
import { Traveller } from "./traveller.ts";

/** What a traveller's file says, as far as the record after it, which carries its hash, vouches for its bytes. */
export interface SealedTraveller {
  readonly chain: ChainLink;
  readonly attempt: IndexedAttempt;
}

const NUMBER = String.raw`(?:0|[1-9]\d*)(?:\.\d+)?(?:e[+-]\d{1,3})?`;
const NAME = String.raw`"[^"\\\x00-\x1f]{1,200}"`;
const PART = String.raw`(?:1|0(?:\.\d+)?|[1-9](?:\.\d+)?e-\d{1,3})`;
/** A line of a budget as the traveller's schema wants it, in canonical order and without escapes. */
const LINE = String.raw`\{"component":${NAME},"contribution":${NUMBER},(?:"estimate":-?${NUMBER},)?"sensitivity":-?${NUMBER},(?:"share":${PART},)?"unit":"[^"\\\x00-\x1f]*","value":${NUMBER}\}`;
/** Uncertainty budgets are two thirds of a traveller, and nothing of them is in the index. A quote in a text has a backslash before it. */
const BUDGET = new RegExp(`"budget":\\[${LINE}(?:,${LINE})*\\],`, "g");

/**
 * Reads of travellers what the index keeps, at a third of what a whole check takes. What is not looked at, because the next
 * record's hash stands for it, is whether the text is the canonical one; and in uncertainty budgets the digits of numbers.
 * Everything else is held against the schema. So the newest records, which nothing vouches for, are not to be read like this.
 */
export class SealedReader {
  readonly #forms = new FormTexts();

  /** @returns null where a whole check is to say what is the matter, or that nothing is */
  read(bytes: Buffer, path: string): SealedTraveller | null {
    if (!isUtf8(bytes)) return null;
    try {
      const parsed = Traveller.safeParse(JSON.parse(bytes.toString("utf8").replace(BUDGET, "")));
      if (!parsed.success) return null;
      const { chain } = parsed.data;
      return { chain, attempt: indexedAttempt(parsed.data, sha256Hex(bytes), path, this.#forms) };
    } catch {
      return null;
    }
  }
}
