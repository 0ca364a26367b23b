import { Text, type TextProps } from "ink";
import { wrapWords } from "./wrap-words.ts";

/** A sentence broken between words, without the blanks that a terminal's own breaking leaves at line starts. */
export function Words({
  text,
  width,
  indent = "",
  ...style
}: { readonly text: string; readonly width: number; readonly indent?: string } & Omit<
  TextProps,
  "children" | "wrap"
>) {
  return <Text {...style}>{wrapWords(text, width, indent).join("\n")}</Text>;
}
