/** Characters of a scanned text in a sentence; more of it tells nobody anything. */
const MOST_SHOWN = 40;

/** What a terminal might obey instead of showing it: control and formatting characters, halves of characters. */
const NOT_SHOWN = /[\p{Cc}\p{Cf}\p{Cs}\p{Zl}\p{Zp}]/gu;

/**
 * A text of which nothing is obeyed: neither a control character nor one that turns the direction of writing.
 * @example escaped("\x1b[2J") // "\\u001b[2J"
 */
export function escaped(text: string): string {
  return text.replace(NOT_SHOWN, (character) => {
    const code = character.codePointAt(0) ?? 0;
    return code > 0xffff ? `\\u{${code.toString(16)}}` : `\\u${code.toString(16).padStart(4, "0")}`;
  });
}

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
