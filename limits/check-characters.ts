import type { CheckScheme } from "./model.ts";

export type CheckedText =
  | { readonly ok: true }
  | {
      readonly ok: false;
      /** The last characters are not what the others ask for; a character can't stand in such a text; nothing is left to check. */
      readonly fault: "check" | "alphabet" | "length";
      readonly found: string;
      readonly expected: string;
    };

interface Scheme {
  /** As people call it. */
  readonly name: string;
  /** What the last characters are called. */
  readonly characters: string;
  /** How many there are. */
  readonly count: 1 | 2;
  readonly alphabet: string;
  readonly alphabetWords: string;
  readonly checkOf: (body: string) => string;
}

const DIGITS = "0123456789";
const DIGITS_AND_CAPITALS = `${DIGITS}ABCDEFGHIJKLMNOPQRSTUVWXYZ`;

export const CHECK_SCHEMES: Readonly<Record<CheckScheme, Scheme>> = {
  gs1: {
    name: "GS1",
    characters: "check digit",
    count: 1,
    alphabet: DIGITS,
    alphabetWords: "digits only",
    checkOf: gs1Check,
  },
  "mod-97-10": {
    name: "MOD 97-10",
    characters: "check digits",
    count: 2,
    alphabet: DIGITS_AND_CAPITALS,
    alphabetWords: "digits and capital letters A to Z",
    checkOf: mod97Check,
  },
  "mod-37-36": {
    name: "MOD 37,36",
    characters: "check character",
    count: 1,
    alphabet: DIGITS_AND_CAPITALS,
    alphabetWords: "digits and capital letters A to Z",
    checkOf: mod37Check,
  },
};

/**
 * Whether a text ends in the check characters that the rest of it asks for. One wrong character is found, and two
 * neighbours exchanged, except:
 * - gs1: neighbours that differ by 5 (16 for 61);
 * - mod-97-10: a letter for a digit or a digit for a letter about once in 97, and B1 for 1B, M2 for 2M, X3 for 3X, because
 *   a letter counts as two digits; a pattern that says which places are letters finds these;
 * - mod-37-36: neighbours that follow each other in the alphabet (45 for 54, 0Z for Z0), once in 36.
 *
 * @param text without blanks; letters as capitals
 * @example checkCharacters("gs1", "6291041500213") // { ok: true }
 * @example checkCharacters("gs1", "6291041500218") // { ok: false, fault: "check", found: "8", expected: "3" }
 */
export function checkCharacters(scheme: CheckScheme, text: string): CheckedText {
  const { alphabet, alphabetWords, count } = CHECK_SCHEMES[scheme];
  const strange = [...text].find((character) => !alphabet.includes(character));
  if (strange !== undefined) return { ok: false, fault: "alphabet", found: strange, expected: alphabetWords };
  if (text.length <= count) {
    return { ok: false, fault: "length", found: text, expected: `more than ${count} characters` };
  }
  const found = text.slice(-count);
  const expected = CHECK_SCHEMES[scheme].checkOf(text.slice(0, -count));
  return found === expected ? { ok: true } : { ok: false, fault: "check", found, expected };
}

/**
 * GS1 General Specifications, 7.9 (section from memory): from the right the weights 3, 1, 3, ...; the check digit fills up to the next ten.
 * @example gs1Check("629104150021") // "3"
 */
function gs1Check(body: string): string {
  const sum = [...body]
    .reverse()
    .reduce((total, digit, i) => total + Number(digit) * (i % 2 === 0 ? 3 : 1), 0);
  return String((10 - (sum % 10)) % 10);
}

/**
 * ISO/IEC 7064 MOD 97-10, letters as the numbers 10 to 35 as in ISO 17442: 98 less the rest of hundred times the number.
 * @example mod97Check("794") // "44"
 */
function mod97Check(body: string): string {
  const rest = [...body].reduce((before, character) => {
    const value = DIGITS_AND_CAPITALS.indexOf(character);
    return (before * (value < 10 ? 10 : 100) + value) % 97;
  }, 0);
  return String(98 - ((rest * 100) % 97)).padStart(2, "0");
}

/**
 * ISO/IEC 7064 MOD 37,36, the hybrid system for digits and letters.
 * @example mod37Check("A12425GABC1234002") // "M"
 */
function mod37Check(body: string): string {
  const product = [...body].reduce((before, character) => {
    const sum = (before + DIGITS_AND_CAPITALS.indexOf(character)) % 36;
    return ((sum === 0 ? 36 : sum) * 2) % 37;
  }, 36);
  return DIGITS_AND_CAPITALS[(37 - product) % 36] ?? "";
}
