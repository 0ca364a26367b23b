import { createInterface, type Interface } from "node:readline";
import type { Readable, Writable } from "node:stream";

/** Asks the person at the fixture to put something on, and waits for a scan of it or for Enter. */
export class Confirming {
  readonly #input: Readable;
  readonly #output: Writable;
  readonly #typed: string[] = [];
  #lines: Interface | null = null;
  #waiting: (() => void) | null = null;
  #isOver = false;

  constructor(input: Readable, output: Writable) {
    this.#input = input;
    this.#output = output;
  }

  /**
   * @param piece serial that a scan must show; Enter alone says that it is on
   * @returns false when the input has ended
   */
  async ask(piece: string, words: string): Promise<boolean> {
    this.#listen();
    // An Enter pressed while something ran answers no question that came later; what is piped in waits its turn.
    if ("isTTY" in this.#input && this.#input.isTTY) this.#typed.length = 0;
    for (;;) {
      this.#output.write(`${words} Close the guard, hands clear, then scan ${piece} or press Enter.\n`);
      const line = await this.#next();
      if (line === null) return false;
      if (line === "" || line === piece) return true;
      this.#output.write(`That is ${JSON.stringify(line.slice(0, 60))}.\n`);
    }
  }

  /** Asks no more; a question that is open is answered by false. */
  close(): void {
    this.#isOver = true;
    this.#lines?.close();
    this.#input.destroy();
    this.#waiting?.();
  }

  #listen(): void {
    if (this.#lines || this.#isOver) return;
    this.#lines = createInterface({ input: this.#input, terminal: false });
    this.#lines.on("line", (line) => {
      this.#typed.push(line.trim());
      this.#waiting?.();
    });
    this.#lines.on("close", () => {
      this.#isOver = true;
      this.#waiting?.();
    });
  }

  async #next(): Promise<string | null> {
    while (this.#typed.length === 0) {
      if (this.#isOver) return null;
      await new Promise<void>((resolve) => {
        this.#waiting = resolve;
      });
    }
    return this.#typed.shift() ?? null;
  }
}
