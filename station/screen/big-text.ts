/** Letters five rows high, for the words and numbers that must be read from across the bench. */
const GLYPHS: Readonly<Record<string, readonly string[]>> = {
  A: [" ### ", "#   #", "#####", "#   #", "#   #"],
  D: ["#### ", "#   #", "#   #", "#   #", "#### "],
  E: ["#####", "#    ", "#### ", "#    ", "#####"],
  F: ["#####", "#    ", "#### ", "#    ", "#    "],
  I: ["###", " # ", " # ", " # ", "###"],
  L: ["#    ", "#    ", "#    ", "#    ", "#####"],
  N: ["#   #", "##  #", "# # #", "#  ##", "#   #"],
  O: [" ### ", "#   #", "#   #", "#   #", " ### "],
  P: ["#### ", "#   #", "#### ", "#    ", "#    "],
  R: ["#### ", "#   #", "#### ", "#  # ", "#   #"],
  S: [" ####", "#    ", " ### ", "    #", "#### "],
  T: ["#####", "  #  ", "  #  ", "  #  ", "  #  "],
  V: ["#   #", "#   #", "#   #", " # # ", "  #  "],
  Y: ["#   #", "#   #", " ### ", "  #  ", "  #  "],
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

/** Rows of letters at scale 1. */
export const BIG_ROWS = 5;

/**
 * @param across how many times as wide as at 1
 * @param down how many times as high; as wide as high when not given
 * @returns the text in big letters, row by row, all of one width; null when a character has no big form
 * @example bigText("PASS", 2) // ten rows
 */
export function bigText(text: string, across = 1, down = across): readonly string[] | null {
  const glyphs = [...text].map((character) => GLYPHS[character]);
  if (text === "" || glyphs.includes(undefined)) return null;
  return Array.from({ length: BIG_ROWS * down }, (_, row) =>
    glyphs
      .map((glyph) => glyph?.[Math.floor(row / down)] ?? "")
      .join(" ")
      .replace(/./g, (dot) => (dot === "#" ? "█" : " ").repeat(across)),
  );
}
