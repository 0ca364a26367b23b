/**
 * altered: not the bytes that were recorded. missing: not there, though what comes later shows that it was. added: nothing
 * vouches for it. unsigned: in due form, but it came while the station was closed by its heads. misplaced: under another name, or in another folder. truncated: a chain's end is not there any more.
 * unreadable: can't be read, so that nobody knows. signature: a head that the station has not signed. index: the index says
 * something else than the files. limits: a limit file in use. not_allowed: a decision that the program lets nobody record.
 */
export type FindingKind =
  | "altered"
  | "missing"
  | "added"
  | "unsigned"
  | "misplaced"
  | "truncated"
  | "unreadable"
  | "signature"
  | "index"
  | "limits"
  | "not_allowed";

/** Something that is not as it was recorded. */
export interface Finding {
  readonly kind: FindingKind;
  /** Relative to the records folder; of a limit file or a copied head, as given. */
  readonly path: string;
  /** One sentence, without the path's own. */
  readonly what: string;
}

/** So many are told; the rest is counted. Whoever swaps the whole folder must not fill the memory. */
const MOST_TOLD = 1000;

/** What an audit has found so far. */
export class Findings {
  readonly told: Finding[] = [];
  readonly notes: string[] = [];
  #count = 0;
  #notes = 0;

  get count(): number {
    return this.#count;
  }

  add(kind: FindingKind, path: string, what: string): void {
    this.#count++;
    if (this.told.length < MOST_TOLD) this.told.push({ kind, path, what });
  }

  /** Something to know that makes the records no worse. */
  note(sentence: string): void {
    this.#notes++;
    if (this.notes.length < MOST_TOLD) this.notes.push(sentence);
  }
}
