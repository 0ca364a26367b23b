/** What somebody did at the keyboard or with the scanner, which types like one. */
export type Key = { readonly kind: "text"; readonly text: string } | { readonly kind: NamedKey };

export type NamedKey =
  | "enter"
  | "escape"
  | "tab"
  | "backspace"
  | "delete"
  | "interrupt"
  | "left"
  | "right"
  | "up"
  | "down"
  | "home"
  | "end"
  | "erase_line"
  | "f1"
  | "f2"
  | "f3"
  | "f4";

const ESC = "\x1b";
// biome-ignore lint/suspicious/noControlCharactersInRegex: what is not typed text
const PLAIN = /^[^\x00-\x1f\x7f-\x9f]+/;
/** Of the Linux console, ECMA-48 control sequences, and the single shifts that keyboards send. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: terminals send them
const SEQUENCE = /^\x1b(?:\[\[[A-E]|\[[0-?]*[ -/]*[@-Z\\-~]|O[2-8]?[A-DFHMP-Sj-y])/;
// biome-ignore lint/suspicious/noControlCharactersInRegex: terminals send them
const UNFINISHED = /^\x1b(?:\[\[?|\[[0-?]*[ -/]*|O[2-8]?)?$/;
/** No key's sequence is longer; what goes on is no sequence. */
const LONGEST_SEQUENCE = 32;
const PASTE_BEGINS = "\x1b[200~";
const PASTE_ENDS = "\x1b[201~";

const NAMED: Readonly<Record<string, NamedKey>> = {
  "\r": "enter",
  "\n": "enter",
  "\t": "tab",
  "\x7f": "backspace",
  "\b": "backspace",
  "\x03": "interrupt",
  "\x01": "home",
  "\x05": "end",
  "\x15": "erase_line",
  "\x1bOP": "f1",
  "\x1bOQ": "f2",
  "\x1bOR": "f3",
  "\x1bOS": "f4",
  "\x1b[11~": "f1",
  "\x1b[12~": "f2",
  "\x1b[13~": "f3",
  "\x1b[14~": "f4",
  "\x1b[[A": "f1",
  "\x1b[[B": "f2",
  "\x1b[[C": "f3",
  "\x1b[[D": "f4",
  "\x1b[A": "up",
  "\x1bOA": "up",
  "\x1b[5~": "up",
  "\x1b[B": "down",
  "\x1bOB": "down",
  "\x1b[6~": "down",
  "\x1b[C": "right",
  "\x1bOC": "right",
  "\x1b[D": "left",
  "\x1bOD": "left",
  "\x1b[H": "home",
  "\x1bOH": "home",
  "\x1b[1~": "home",
  "\x1b[7~": "home",
  "\x1b[F": "end",
  "\x1bOF": "end",
  "\x1b[4~": "end",
  "\x1b[8~": "end",
  "\x1b[3~": "delete",
};

/** What follows an Esc within this time belongs to it; nobody presses two keys so quickly. */
export const SEQUENCE_WITHIN_ms = 30;

/**
 * Bytes of a terminal in raw mode, as keys. A scanner's whole line may come in one chunk or byte by byte, ended by
 * CR, LF or both: both count as one Enter, or the second would start the unit that the first has armed.
 *
 * Esc is also how the sequences of other keys begin, and a chunk may end right behind it. Where Esc is urgent (it aborts),
 * it counts at once; should the rest of a sequence follow, that is heard as its key and types nothing, so that an F-key
 * torn there has aborted as well: the safe one of two mistakes. Where nothing is to be aborted the Esc waits for what follows.
 */
export class KeyDecoder {
  readonly #isUrgent: () => boolean;
  #wasCarriageReturn = false;
  #isPasting = false;
  /** The beginning of what may become a sequence. */
  #begun = "";
  /** The Esc of it has been told already. */
  #isTold = false;
  #begun_ms = 0;

  /** @param isUrgent whether an Esc must count at once now */
  constructor(isUrgent: () => boolean = () => true) {
    this.#isUrgent = isUrgent;
  }

  /** Call `flush` once SEQUENCE_WITHIN_ms have passed without another chunk. */
  get isWaiting(): boolean {
    return this.#begun !== "";
  }

  /**
   * @param chunk whatever the terminal sent at once
   * @param now_ms any clock that only goes forward
   */
  decode(chunk: string, now_ms: number): Key[] {
    const isLate = this.#begun !== "" && now_ms - this.#begun_ms > SEQUENCE_WITHIN_ms;
    const keys = isLate ? this.flush() : [];
    let rest = this.#begun + chunk;
    let isTold = this.#isTold;
    this.#forget();
    while (rest !== "") {
      if (rest.length <= LONGEST_SEQUENCE && UNFINISHED.test(rest)) {
        if (rest === ESC && !isTold && this.#isUrgent()) {
          keys.push(...this.#escape());
          isTold = true;
        }
        this.#begun = rest;
        this.#isTold = isTold;
        this.#begun_ms = now_ms;
        break;
      }
      const taken = PLAIN.exec(rest)?.[0] ?? SEQUENCE.exec(rest)?.[0] ?? rest.slice(0, 1);
      if (taken !== ESC) keys.push(...this.#heard(taken));
      else if (!isTold) keys.push(...this.#escape());
      isTold = false;
      rest = rest.slice(taken.length);
    }
    return keys;
  }

  /** Nothing has followed: what waits was no sequence. */
  flush(): Key[] {
    const keys = this.#isTold || this.#begun === "" ? [] : this.#escape();
    const text = this.#begun.slice(ESC.length);
    if (text !== "") keys.push({ kind: "text", text });
    this.#forget();
    return keys;
  }

  #forget(): void {
    this.#begun = "";
    this.#isTold = false;
  }

  #heard(taken: string): Key[] {
    const followsCarriageReturn = this.#wasCarriageReturn;
    this.#wasCarriageReturn = taken === "\r";
    if (taken === PASTE_BEGINS) this.#isPasting = true;
    if (taken === PASTE_ENDS) this.#isPasting = false;
    if (PLAIN.test(taken)) return [{ kind: "text", text: taken }];
    if (taken === "\n" && followsCarriageReturn) return [];
    const kind = NAMED[taken];
    if (kind === undefined) return [];
    // What is pasted is text: a column's Tab must not acknowledge a fault.
    if (this.#isPasting && kind === "tab") return [{ kind: "text", text: " " }];
    return this.#isPasting && kind !== "enter" && kind !== "interrupt" ? [] : [{ kind }];
  }

  /** Also ends a paste whose end got lost: nothing may keep Esc from aborting. */
  #escape(): Key[] {
    this.#isPasting = false;
    this.#wasCarriageReturn = false;
    return [{ kind: "escape" }];
  }
}
