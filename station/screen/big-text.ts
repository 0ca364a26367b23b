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
 * @param scale how many times as wide and as high as at 1
 * @returns the text in big letters, row by row, all of one width; null when a character has no big form
 * @example bigText("PASS", 2) // ten rows
 */
export function bigText(text: string, scale = 1): readonly string[] | null {
  const glyphs = [...text].map((character) => GLYPHS[character]);
  if (text === "" || glyphs.includes(undefined)) return null;
  return Array.from({ length: BIG_ROWS * scale }, (_, row) =>
    glyphs
      .map((glyph) => glyph?.[Math.floor(row / scale)] ?? "")
      .join(" ")
      .replace(/./g, (dot) => (dot === "#" ? "█" : " ").repeat(scale)),
  );
}
