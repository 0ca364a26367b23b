import { escaped } from "../limits/escaped-text.ts";

/** Characters of a scanned text in a sentence; more of it tells nobody anything. */
const MOST_SHOWN = 40;

/**
 * A scanned text in quotation marks, short and escaped, for a sentence.
 * @example quoted("TUB000123\x1b") // "\"TUB000123\\u001b\""
 */
export function quoted(text: string): string {
  const characters = [...text];
  const short = characters.length > MOST_SHOWN ? `${characters.slice(0, MOST_SHOWN).join("")}...` : text;
  return escaped(JSON.stringify(short));
}

/**
 * A tracked part's name in a sentence: short, escaped, with blanks for underscores.
 * @example partName("motor_serial") // "motor serial"
 */
export function partName(name: string): string {
  return quoted(name.replaceAll("_", " ")).slice(1, -1);
}
