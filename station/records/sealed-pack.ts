import type { IndexedAttempt } from "./index-db.ts";
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

/** All but what the pack's other two members hold, and the path, in an order of its own: names would take as long as what they name. */
type Packed = readonly [
  previous: string | null,
  sequence: number,
  sha256: string,
  id: string,
  recordKind: IndexedAttempt["recordKind"],
  serial: string,
  model: string,
  attempt: number,
  kind: IndexedAttempt["kind"],
  draft: boolean,
  verdict: IndexedAttempt["verdict"],
  started_at: string,
  ended_at: string | null,
  duration_s: number | null,
  codes: readonly string[],
  causes: readonly string[],
  suspect: string | null,
  reference: IndexedAttempt["reference"],
  form: number,
  parts: string,
  length: number,
];

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
    const { stored } = it.attempt;
    this.#forms.set(stored.form, stored.formText);
    this.#texts.push(JSON.stringify(packed(it)));
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

function packed({ chain, attempt: it }: SealedTraveller): Packed {
  return [
    chain.previous,
    it.sequence,
    it.sha256,
    it.id,
    it.recordKind,
    it.serial,
    it.model,
    it.attempt,
    it.kind,
    it.draft,
    it.verdict,
    it.started_at,
    it.ended_at,
    it.duration_s,
    it.codes,
    it.causes,
    it.suspect,
    it.reference,
    it.stored.form,
    it.stored.parts,
    it.stored.numbers.length,
  ];
}

/** @param paths of the travellers that were asked for, in their order */
export function unpacked(
  { text, forms, numbers }: SealedPack,
  paths: readonly string[],
): (SealedTraveller | null)[] {
  let end = 0;
  return (JSON.parse(text) as (Packed | null)[]).map((it, at) => {
    if (it === null) return null;
    const [
      previous,
      sequence,
      sha256,
      id,
      recordKind,
      serial,
      model,
      attempt,
      kind,
      draft,
      verdict,
      started_at,
      ended_at,
      duration_s,
      codes,
      causes,
      suspect,
      reference,
      form,
      parts,
      length,
    ] = it;
    const [path, formText] = [paths[at], forms.get(form)];
    if (path === undefined) throw new Error("A traveller came that was not asked for.");
    if (formText === undefined) throw new Error(`No form ${form} came with its traveller.`);
    end += length;
    return {
      chain: { sequence, previous },
      attempt: {
        sequence,
        sha256,
        path,
        id,
        recordKind,
        serial,
        model,
        attempt,
        kind,
        draft,
        verdict,
        started_at,
        ended_at,
        duration_s,
        codes,
        causes,
        suspect,
        reference,
        stored: { form, formText, parts, numbers: Buffer.from(numbers.buffer, end - length, length) },
      },
    };
  });
}
