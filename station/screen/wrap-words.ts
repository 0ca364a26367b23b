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
