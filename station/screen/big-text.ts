/** Letters five rows high, for the words and numbers that must be read from across the bench. */
const GLYPHS: Readonly<Record<string, readonly string[]>> = {
  A: [" ### ", "#   #", "#####", "#   #", "#   #"],
  D: ["#### ", "#   #", "#   #", "#   #", "#### "],
  E: ["#####", "#    ", "#### ", "#    ", "#####"],
  F: ["#####", "#    ", "#### ", "#    ", "#    "],
  H: ["#   #", "#   #", "#####", "#   #", "#   #"],
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
/** Seven rows: letters whose upright strokes alone are longer. */
export const TALL = 1.4;
const TALL_ROWS = [0, 1, 1, 2, 3, 3, 4];

/** @returns rows of letters so many times as high as at 1 */
export function bigRows(down: number): number {
  return Math.round(BIG_ROWS * down);
}

/**
 * @param across how many times as wide as at 1
 * @param down how many times as high, a whole number or TALL; as wide as high when not given
 * @returns the text in big letters, row by row, all of one width; null when a character has no big form
 * @example bigText("PASS", 2) // ten rows
 */
export function bigText(text: string, across = 1, down = across): readonly string[] | null {
  const glyphs = [...text].map((character) => GLYPHS[character]);
  if (text === "" || glyphs.includes(undefined)) return null;
  return Array.from({ length: bigRows(down) }, (_, row) =>
    glyphs
      .map((glyph) => glyph?.[down === TALL ? (TALL_ROWS[row] ?? 0) : Math.floor(row / down)] ?? "")
      .join(" ")
      .replace(/./g, (dot) => (dot === "#" ? "█" : " ").repeat(across)),
  );
}
