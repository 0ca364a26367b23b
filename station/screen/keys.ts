/** What somebody did at the keyboard or with the scanner, which types like one. */
export type Key =
  | { readonly kind: "text"; readonly text: string }
  | { readonly kind: "enter" | "escape" | "tab" | "backspace" | "interrupt" };

/** Sequences of keys this screen has no use for: arrows, function keys, bracketed paste marks. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: terminals send them
const SEQUENCE = /^\x1b(?:\[\[?[0-?]*[ -/]*[@-~]|O[@-~])/;
// biome-ignore lint/suspicious/noControlCharactersInRegex: what is not typed text
const PLAIN = /^[^\x00-\x1f\x7f-\x9f]+/;

/**
 * Bytes of a terminal in raw mode, as keys. A scanner's whole line may come in one chunk or byte by byte, ended by
 * CR, LF or both: both count as one Enter, or the second would start the unit that the first has armed.
 */
export class KeyDecoder {
  #wasCarriageReturn = false;

  /** @param chunk whatever the terminal sent at once */
  decode(chunk: string): Key[] {
    const keys: Key[] = [];
    let rest = chunk;
    while (rest !== "") {
      const plain = PLAIN.exec(rest)?.[0] ?? SEQUENCE.exec(rest)?.[0];
      const taken = plain ?? rest.slice(0, 1);
      if (!taken.startsWith("\x1b") && plain !== undefined) keys.push({ kind: "text", text: taken });
      else if (plain === undefined) keys.push(...this.#control(taken));
      this.#wasCarriageReturn = taken === "\r";
      rest = rest.slice(taken.length);
    }
    return keys;
  }

  #control(character: string): Key[] {
    switch (character) {
      case "\r":
        return [{ kind: "enter" }];
      case "\n":
        return this.#wasCarriageReturn ? [] : [{ kind: "enter" }];
      case "\x1b":
        return [{ kind: "escape" }];
      case "\t":
        return [{ kind: "tab" }];
      case "\x7f":
      case "\b":
        return [{ kind: "backspace" }];
      case "\x03":
        return [{ kind: "interrupt" }];
      default:
        return [];
    }
  }
}
