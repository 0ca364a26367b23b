import { escaped } from "../../limits/escaped-text.ts";

const ENTITIES: Readonly<Record<string, string>> = {
  "&": "&amp;",
  "<": "&lt;",
  ">": "&gt;",
  '"': "&quot;",
  "'": "&#39;",
};

/**
 * A text as HTML that shows it and does nothing else, in an element or in a quoted attribute.
 * @example htmlText("<b>") // "&lt;b&gt;"
 */
export function htmlText(text: string): string {
  return escaped(text).replace(/[&<>"']/g, (character) => ENTITIES[character] ?? "");
}
