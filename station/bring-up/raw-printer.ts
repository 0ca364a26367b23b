import { visible } from "./heard-bytes.ts";

const LONGEST = 60;

/**
 * Shows bytes line by line as they come, nothing in them invisible. Of a stream the first lines of each heading are
 * shown and the rest is counted.
 */
export class RawPrinter {
  readonly #print: (text: string) => void;
  readonly #most: number;
  #rest: { readonly mark: string; readonly at_s: number; bytes: Buffer } | null = null;
  #shown = 0;
  #hidden = 0;

  /** @param most lines shown under one heading */
  constructor(print: (text: string) => void, most: number) {
    this.#print = print;
    this.#most = most;
  }

  /** @param t_s since the beginning */
  passed(direction: "sent" | "heard", bytes: Buffer, t_s: number): void {
    const mark = direction === "sent" ? "->" : "<-";
    if (this.#rest && this.#rest.mark !== mark) this.#flush();
    for (const byte of bytes) {
      // A CR ends a line where no LF follows.
      if (this.#rest?.bytes.at(-1) === 0x0d && byte !== 0x0a) this.#flush();
      this.#rest ??= { mark, at_s: t_s, bytes: Buffer.alloc(0) };
      this.#rest.bytes = Buffer.concat([this.#rest.bytes, Buffer.from([byte])]);
      if (byte === 0x0a || this.#rest.bytes.length >= LONGEST) this.#flush();
    }
    if (direction === "sent") this.#flush();
  }

  heading(text: string): void {
    this.end();
    this.#print(text);
  }

  /** Shows what is left. */
  end(): void {
    this.#flush();
    if (this.#hidden > 0) this.#print(`            ... and ${this.#hidden} more`);
    this.#shown = 0;
    this.#hidden = 0;
  }

  #flush(): void {
    const rest = this.#rest;
    this.#rest = null;
    if (!rest) return;
    if (rest.mark === "<-" && this.#shown >= this.#most) {
      this.#hidden++;
      return;
    }
    if (rest.mark === "<-") this.#shown++;
    this.#print(`${rest.at_s.toFixed(3).padStart(9)} s ${rest.mark} ${visible(rest.bytes)}`);
  }
}
