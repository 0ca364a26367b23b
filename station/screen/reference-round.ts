/** Which step of a reference check is next: the pieces of one check are counted until none is due any more. */
export class ReferenceRound {
  readonly #pieces = new Set<string>();

  /**
   * @param due serials still to be tested
   * @returns the next one's step, from 1, and how many there are
   */
  look(due: readonly string[]): { readonly step: number; readonly of: number } {
    if (due.length === 0) this.#pieces.clear();
    for (const serial of due) this.#pieces.add(serial);
    const of = this.#pieces.size;
    return { step: Math.min(of, of - due.length + 1), of };
  }
}
