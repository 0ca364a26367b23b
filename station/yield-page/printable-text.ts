/** What the paper's font (Roboto, as it comes with pdfmake) has: Latin, Greek, Cyrillic, punctuation, some signs. */
const RANGES: readonly (readonly [first: number, last: number])[] = [
  [0x20, 0x7e],
  [0xa0, 0xac],
  [0xae, 0x17f],
  [0x18f, 0x18f],
  [0x192, 0x192],
  [0x1fa, 0x1ff],
  [0x218, 0x21b],
  [0x384, 0x38a],
  [0x38c, 0x38c],
  [0x38e, 0x3a1],
  [0x3a3, 0x3ce],
  [0x400, 0x486],
  [0x488, 0x513],
  [0x1e80, 0x1e85],
  [0x1e9e, 0x1e9e],
  [0x1ea0, 0x1ef9],
  [0x2010, 0x2011],
  [0x2013, 0x2015],
  [0x2017, 0x201e],
  [0x2020, 0x2022],
  [0x2025, 0x2026],
  [0x2030, 0x2030],
  [0x2032, 0x2033],
  [0x2039, 0x203a],
  [0x2044, 0x2044],
  [0x2070, 0x2070],
  [0x2074, 0x208e],
  [0x20ac, 0x20ac],
  [0x2116, 0x2116],
  [0x2122, 0x2122],
  [0x2126, 0x2126],
  [0x2202, 0x2202],
  [0x2206, 0x2206],
  [0x220f, 0x220f],
  [0x2211, 0x2212],
  [0x221a, 0x221a],
  [0x221e, 0x221e],
  [0x222b, 0x222b],
  [0x2248, 0x2248],
  [0x2260, 0x2260],
  [0x2264, 0x2265],
  [0x25a0, 0x25a0],
  [0x25ca, 0x25ca],
  [0x25cf, 0x25cf],
];

/** A narrow space between thousands has a wider brother that the font has. */
const NARROW_SPACE = /\u202f/g;

/**
 * A text as the paper's font can show it: what it has no letter for is written as its number, and never left out.
 * @example printable("Łódź 漢") // "Łódź \\u6f22"
 */
export function printable(text: string): string {
  return Array.from(text.replace(NARROW_SPACE, "\u00a0"), (character) => {
    const code = character.codePointAt(0) ?? 0;
    if (RANGES.some(([first, last]) => code >= first && code <= last)) return character;
    return code > 0xffff ? `\\u{${code.toString(16)}}` : `\\u${code.toString(16).padStart(4, "0")}`;
  }).join("");
}

/** The same of every text in something made of objects, arrays, numbers and texts. */
export function printableThroughout<T>(thing: T): T {
  if (typeof thing === "string") return printable(thing) as T;
  if (Array.isArray(thing)) {
    return (thing.some((one) => typeof one !== "number") ? thing.map(printableThroughout) : thing) as T;
  }
  if (typeof thing !== "object" || thing === null) return thing;
  return Object.fromEntries(
    Object.entries(thing).map(([name, value]) => [name, printableThroughout(value)]),
  ) as T;
}
