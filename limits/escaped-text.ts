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

/** The same of a text of several lines, which stay lines. */
export function escapedLines(text: string): string {
  return text.split("\n").map(escaped).join("\n");
}
