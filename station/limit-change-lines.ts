import { changeParts, changeText } from "../limits/diff/change-text.ts";
import type { LimitChange } from "../limits/diff/limit-diff.ts";
import { wrapWords } from "./screen/wrap-words.ts";

/**
 * A change of a limit file as lines of a terminal: one where it fits, else what changed, then the old and the new below it.
 * @example changeLines(change, 40) // ["reason", "  from Limits of the pilot build.", "  to Gasket of lot G0042 leaks less."]
 */
export function changeLines(change: LimitChange, columns: number): readonly string[] {
  const line = changeText(change);
  if (line.length <= columns) return [line];
  const [head = "", ...parts] = changeParts(change);
  return [
    ...wrapWords(head, columns, "  "),
    ...parts.flatMap((part) => wrapWords(part, columns - 2, "  ").map((one) => `  ${one}`)),
  ];
}
