import { swappedCase } from "../badge-text.ts";
import { LONGEST_SCAN } from "../scanned-lines.ts";

const TOKEN =
  /\\[pP]\{[^}]*\}|\\u\{[^}]*\}|\\u[0-9a-fA-F]{4}|\\x[0-9a-fA-F]{2}|\\[\s\S]|\[(?:\\[\s\S]|[^\]\\])*\]|\{[^}]*\}|\(\?:|[\s\S]/gu;
const NO_CHARACTER = /^(?:\(|\(\?:|\)|\||\?|\{[^}]*\})$/u;

/** No badge is longer than the longest scan. */
const LONGEST_BADGE = 64;

/** Drawn instead of a character that nobody else may read. */
export const COVER = "•";

/**
 * @param pattern as `readPattern` takes it: anchored, bounded, without look-around
 * @returns what matches every text that such a match may begin with, the empty one and the whole included
 * @example beginningOf(/^B[0-9]{6}$/u).test("B53") // true
 */
export function beginningOf(pattern: RegExp): RegExp {
  const tokens = pattern.source.slice(1, -1).match(TOKEN) ?? [];
  const inside = tokens.map((token) => (NO_CHARACTER.test(token) ? token : `(?:${token}|$)`)).join("");
  return new RegExp(`^(?:${inside})$`, "u");
}

/**
 * Keeps badges off the screen while they are typed or scanned, key by key. Whatever may become a badge is covered until it
 * can't any more, wherever in the line it begins: a badge scanned behind half a serial is still a badge. Only a first word
 * that reads as the beginning of a serial on this line, and of no badge, is left as it is, or nobody could check
 * by eye what they type.
 */
export class BadgeCover {
  readonly #badge: RegExp | null;
  readonly #badgeBegins: RegExp | null;
  readonly #serialsBegin: readonly RegExp[];

  /**
   * @param badge null where nobody signs in by badge: then nothing is covered
   * @param serials patterns of the models on the line
   */
  constructor(badge: RegExp | null, serials: readonly RegExp[]) {
    this.#badge = badge;
    this.#badgeBegins = badge && beginningOf(badge);
    this.#serialsBegin = serials.map(beginningOf);
  }

  /**
   * @param cursor where characters are being added, in characters; the line's end when not given
   * @returns the line as it may be drawn, of the same length in characters. One too long for a scan comes from a jammed
   * scanner or key: it is covered as a whole, which costs no time.
   */
  drawn(text: string, cursor?: number): string {
    const characters = [...text];
    if (this.#badge && characters.length > LONGEST_SCAN) return COVER.repeat(characters.length);
    const secret = this.#secret(characters, [characters.length, cursor ?? characters.length]);
    return characters.map((character, i) => (secret.has(i) ? COVER : character)).join("");
  }

  /** @returns whether a whole badge stands anywhere in what was entered, or the beginning of one is all of it */
  holdsBadge(entered: string): boolean {
    if (this.#secret([...entered], []).size > 0) return true;
    return this.#isSecretBeginning(entered);
  }

  #isSecretBeginning(text: string): boolean {
    return text.length > 1 && this.#mayBegin(text) && !this.#isSerialBeginning(text);
  }

  /** Also of one scanned with Caps Lock on. */
  #mayBegin(text: string): boolean {
    const begins = this.#badgeBegins;
    return begins !== null && (begins.test(text) || begins.test(swappedCase(text)));
  }

  #isSerialBeginning(word: string): boolean {
    return this.#serialsBegin.some((begins) => begins.test(word));
  }

  /** @param growsAt ends at which what stands there may yet become a badge */
  #secret(characters: readonly string[], growsAt: readonly number[]): ReadonlySet<number> {
    const secret = new Set<number>();
    const badge = this.#badge;
    const begins = this.#badgeBegins;
    if (!badge || !begins) return secret;
    const swapped = characters.map(swappedCase);
    const [, blanks = "", word = ""] = /^(\s*)(\S*)/u.exec(characters.join("")) ?? [];
    const isPlain = !this.#mayBegin(word) && this.#isSerialBeginning(word);
    const first = isPlain ? [...blanks, ...word].length : 0;
    for (let start = first; start < characters.length; start++) {
      const longest = Math.min(LONGEST_BADGE, characters.length - start);
      let part = "";
      let partSwapped = "";
      for (let length = 1; length <= longest; length++) {
        const end = start + length;
        part += characters[end - 1];
        partSwapped += swapped[end - 1];
        // What begins no badge is none, nor is anything longer.
        if (!begins.test(part) && !begins.test(partSwapped)) break;
        if (badge.test(part) || badge.test(partSwapped) || growsAt.includes(end)) {
          for (let i = start; i < end; i++) secret.add(i);
        }
      }
    }
    return secret;
  }
}
