import type { SealedTraveller } from "./sealed-traveller.ts";

/** What a thread has read of some travellers, on its way to another: cloned as objects they would take longer than all that was done to them. */
export interface SealedPack {
  /** A JSON list with a `Packed` of each traveller, null where a whole check must look at it. */
  readonly text: string;
  /** Every form of them, once. */
  readonly forms: ReadonlyMap<number, string>;
  /** All their numbers, one after the other, in a memory of their own. */
  readonly numbers: Uint8Array<ArrayBuffer>;
}

/** All but what the pack's other two members hold. */
type Packed =
  | (Omit<SealedTraveller, "attempt"> & {
      readonly attempt: Omit<SealedTraveller["attempt"], "stored">;
      readonly form: number;
      readonly parts: string;
      readonly length: number;
    })
  | null;

/**
 * Packs travellers one by one as they are read: what is kept of one are texts of its own, and its file's text, of which whatever
 * was read is a part, is forgotten before the next one's is there.
 */
export class Packing {
  readonly #texts: string[] = [];
  readonly #forms = new Map<number, string>();
  #numbers = new Uint8Array(64 * 1024);
  #length = 0;

  /** @param it null where a whole check must look at the traveller */
  add(it: SealedTraveller | null): void {
    if (it === null) {
      this.#texts.push("null");
      return;
    }
    const { stored, ...attempt } = it.attempt;
    this.#forms.set(stored.form, stored.formText);
    const packed: Packed = {
      chain: it.chain,
      attempt,
      form: stored.form,
      parts: stored.parts,
      length: stored.numbers.length,
    };
    this.#texts.push(JSON.stringify(packed));
    const end = this.#length + stored.numbers.length;
    if (end > this.#numbers.length) {
      const larger = new Uint8Array(2 * end);
      larger.set(this.#numbers.subarray(0, this.#length));
      this.#numbers = larger;
    }
    this.#numbers.set(stored.numbers, this.#length);
    this.#length = end;
  }

  /** @returns all that were added since the last time */
  take(): SealedPack {
    const pack = {
      text: `[${this.#texts.join(",")}]`,
      forms: new Map(this.#forms),
      numbers: this.#numbers.slice(0, this.#length),
    };
    this.#texts.length = 0;
    this.#forms.clear();
    this.#length = 0;
    return pack;
  }
}

export function unpacked({ text, forms, numbers }: SealedPack): (SealedTraveller | null)[] {
  let at = 0;
  return (JSON.parse(text) as Packed[]).map((it) => {
    if (it === null) return null;
    const { chain, attempt, form, parts, length } = it;
    const own = Buffer.from(numbers.buffer, at, length);
    at += length;
    const formText = forms.get(form);
    if (formText === undefined) throw new Error(`No form ${form} came with its traveller.`);
    return { chain, attempt: { ...attempt, stored: { form, formText, parts, numbers: own } } };
  });
}
