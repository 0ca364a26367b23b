/**
 * Numbers the station's calls of each instrument, so that the end of one can be told from the end of another. Recorder
 * and replay count alike: those of the tape from 1 on, those still under way at its beginning 0 and down.
 */
export class CallNumbers {
  readonly #made = new Map<string, number>();
  /** Reads under way, by their ids, oldest first. */
  readonly #reading = new Map<string, number[]>();
  #base: ReadonlyMap<string, number> = new Map();
  #before: ReadonlyMap<string, readonly number[]> = new Map();

  /** @returns the call's id */
  made(instrument: string, isRead: boolean): number {
    const id = (this.#made.get(instrument) ?? 0) + 1;
    this.#made.set(instrument, id);
    if (isRead) this.#reading.set(instrument, [...(this.#reading.get(instrument) ?? []), id]);
    return id;
  }

  ended(instrument: string, id: number): void {
    const reading = this.#reading.get(instrument);
    if (reading?.includes(id))
      this.#reading.set(
        instrument,
        reading.filter((one) => one !== id),
      );
  }

  /** A tape begins. @returns how many reads are under way, by instrument */
  begin(): Readonly<Record<string, number>> {
    this.#base = new Map(this.#made);
    this.#before = new Map(this.#reading);
    const counts = [...this.#reading].map(([instrument, ids]) => [instrument, ids.length] as const);
    return Object.fromEntries(counts.filter(([, count]) => count > 0));
  }

  /** Fresh connections: nothing from before counts. @param kept but of these instruments */
  forget(kept: ReadonlySet<string> = new Set()): void {
    for (const name of this.#made.keys()) if (!kept.has(name)) this.#made.delete(name);
    for (const name of this.#reading.keys()) if (!kept.has(name)) this.#reading.delete(name);
    this.begin();
  }

  /** @returns the call's number on the tape */
  numberOf(instrument: string, id: number): number {
    const base = this.#base.get(instrument) ?? 0;
    if (id > base) return id - base;
    const before = this.#before.get(instrument) ?? [];
    const at = before.indexOf(id);
    return at < 0 ? -before.length : at - before.length + 1;
  }
}
