/**
 * @param indent of the second line and those after it
 * @returns lines no longer than the width; a word longer than that is cut
 * @example wrapWords("Keep clear and wait.", 12) // ["Keep clear", "and wait."]
 */
export function wrapWords(text: string, width: number, indent = ""): readonly string[] {
  const lines: string[] = [];
  let line = "";
  for (const word of text.split(" ").filter((it) => it !== "")) {
    const start = lines.length === 0 ? "" : indent;
    const longer = line === "" ? start + word : `${line} ${word}`;
    if (longer.length <= width) {
      line = longer;
      continue;
    }
    if (line !== "") lines.push(line);
    line = indent + word;
    while (line.length > width) {
      lines.push(line.slice(0, width));
      line = indent + line.slice(width);
    }
  }
  return line === "" ? lines : [...lines, line];
}

/**
 * @param sentences each begins a line of its own
 * @param room the first `rows` lines are no longer than `beside`, those after them no longer than `columns`
 * @returns lines beside something and lines below it; a sentence may go on from the one to the other
 */
export function wrapAround(
  sentences: readonly string[],
  room: { readonly beside: number; readonly rows: number; readonly columns: number },
): { readonly beside: readonly string[]; readonly below: readonly string[] } {
  const beside: string[] = [];
  const below: string[] = [];
  for (const sentence of sentences) {
    const lines = wrapWords(sentence, room.beside);
    const left = room.rows - beside.length;
    beside.push(...lines.slice(0, left));
    below.push(...wrapWords(lines.slice(left).join(" "), room.columns));
  }
  return { beside, below };
}

/** @returns no more than so many lines, with a mark where some were left out */
export function cut(lines: readonly string[], most: number): readonly string[] {
  if (lines.length <= most) return lines;
  const [last, ...before] = lines.slice(0, Math.max(0, most)).reverse();
  return last === undefined ? [] : [...before.reverse(), `${last.slice(0, -1)}…`];
}
