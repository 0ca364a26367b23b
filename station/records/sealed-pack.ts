import type { SealedTraveller } from "./sealed-traveller.ts";

/** What a thread has read of some travellers, on its way to another: cloned as objects they would take longer than all that was done to them. */
export interface SealedPack {
  /** JSON of a traveller each, null where a whole check must look at it, without what the other two members hold. */
  readonly text: string;
  /** Every form of them, once. */
  readonly forms: ReadonlyMap<number, string>;
  /** All their numbers, one after the other, in a memory of their own. */
  readonly numbers: Uint8Array<ArrayBuffer>;
}

type Packed =
  | (Omit<SealedTraveller, "attempt"> & {
      readonly attempt: Omit<SealedTraveller["attempt"], "stored">;
      readonly form: number;
      readonly parts: string;
      readonly length: number;
    })
  | null;

export function packed(travellers: readonly (SealedTraveller | null)[]): SealedPack {
  const forms = new Map<number, string>();
  const all = travellers.map((it): Packed => {
    if (it === null) return null;
    const { stored, ...attempt } = it.attempt;
    forms.set(stored.form, stored.formText);
    return {
      chain: it.chain,
      attempt,
      form: stored.form,
      parts: stored.parts,
      length: stored.numbers.length,
    };
  });
  const numbers = new Uint8Array(all.reduce((sum, it) => sum + (it?.length ?? 0), 0));
  let at = 0;
  for (const it of travellers) {
    if (it === null) continue;
    numbers.set(it.attempt.stored.numbers, at);
    at += it.attempt.stored.numbers.length;
  }
  return { text: JSON.stringify(all), forms, numbers };
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
