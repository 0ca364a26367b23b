/** A date, a name, a rule: broken in two it is no longer one. */
const KEPT_WHOLE_CHARACTERS = 24;

/** The classes of a table's cell. */
export function cellLook(kind: "text" | "number", cell = ""): string {
  return kind === "text" && cell.length <= KEPT_WHOLE_CHARACTERS ? "text kept" : kind;
}
