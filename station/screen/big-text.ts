/** Letters five rows high, for the words and numbers that must be read from across the bench. */
const GLYPHS: Readonly<Record<string, readonly string[]>> = {
  A: [" ### ", "#   #", "#####", "#   #", "#   #"],
  D: ["#### ", "#   #", "#   #", "#   #", "#### "],
  F: ["#####", "#    ", "#### ", "#    ", "#    "],
  I: ["###", " # ", " # ", " # ", "###"],
  L: ["#    ", "#    ", "#    ", "#    ", "#####"],
  N: ["#   #", "##  #", "# # #", "#  ##", "#   #"],
  O: [" ### ", "#   #", "#   #", "#   #", " ### "],
  P: ["#### ", "#   #", "#### ", "#    ", "#    "],
  S: [" ####", "#    ", " ### ", "    #", "#### "],
  T: ["#####", "  #  ", "  #  ", "  #  ", "  #  "],
  V: ["#   #", "#   #", "#   #", " # # ", "  #  "],
  "0": [" ## ", "#  #", "#  #", "#  #", " ## "],
  "1": [" # ", "## ", " # ", " # ", "###"],
  "2": ["### ", "   #", " ## ", "#   ", "####"],
  "3": ["### ", "   #", " ## ", "   #", "### "],
  "4": ["#  #", "#  #", "####", "   #", "   #"],
  "5": ["####", "#   ", "### ", "   #", "### "],
  "6": [" ## ", "#   ", "### ", "#  #", " ## "],
  "7": ["####", "   #", "  # ", " #  ", " #  "],
  "8": [" ## ", "#  #", " ## ", "#  #", " ## "],
  "9": [" ## ", "#  #", " ###", "   #", " ## "],
  "-": ["   ", "   ", "###", "   ", "   "],
  ".": [" ", " ", " ", " ", "#"],
  " ": ["  ", "  ", "  ", "  ", "  "],
};

export const BIG_ROWS = 5;

/**
 * @returns the text in big letters, row by row; null when a character has no big form
 * @example bigText("PASS")
 */
export function bigText(text: string): readonly string[] | null {
  const glyphs = [...text].map((character) => GLYPHS[character]);
  if (text === "" || glyphs.includes(undefined)) return null;
  return Array.from({ length: BIG_ROWS }, (_, row) =>
    glyphs
      .map((glyph) => glyph?.[row] ?? "")
      .join(" ")
      .replaceAll("#", "█"),
  );
}
