const CHUNK_bytes = 65_536;

/**
 * Many texts that are rarely asked for: kept outside of the heap that is collected, where ten thousand of them would be moved about, and
 * make it grow to several times their size.
 */
export class PackedTexts {
  readonly #chunks: Buffer[] = [];
  /** Of each text its chunk, and its first and last place there. */
  readonly #places: number[] = [];
  #used_bytes = CHUNK_bytes;

  get count(): number {
    return this.#places.length / 3;
  }

  add(text: string): void {
    const bytes = Buffer.byteLength(text);
    if (this.#used_bytes + bytes > (this.#chunks.at(-1)?.length ?? 0)) {
      this.#chunks.push(Buffer.allocUnsafe(Math.max(CHUNK_bytes, bytes)));
      this.#used_bytes = 0;
    }
    this.#chunks.at(-1)?.write(text, this.#used_bytes);
    this.#places.push(this.#chunks.length - 1, this.#used_bytes, this.#used_bytes + bytes);
    this.#used_bytes += bytes;
  }

  /** @param place of those added, from 0 @throws RangeError where there is none */
  at(place: number): string {
    const [chunk, start, end] = this.#places.slice(3 * place, 3 * place + 3);
    const text = this.#chunks[chunk ?? -1]?.toString("utf8", start, end);
    if (text === undefined) throw new RangeError(`There is no text ${place}.`);
    return text;
  }
}
