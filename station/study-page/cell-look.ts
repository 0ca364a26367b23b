/** A date, a name, a rule: broken in two it is no longer one. */
const KEPT_WHOLE_CHARACTERS = 24;
/** Of what is longer, words up to this are not broken either: a column is narrower than the page, never than its words. */
const KEPT_WORD_CHARACTERS = 16;

/** The classes of a table's cell. */
export function cellLook(kind: "text" | "number", cell = ""): string {
  if (kind === "number") return kind;
  if (cell.length <= KEPT_WHOLE_CHARACTERS) return "text kept";
  return cell.split(/\s/).every((word) => word.length <= KEPT_WORD_CHARACTERS) ? "text worded" : kind;
}
