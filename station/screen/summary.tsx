import { Text } from "ink";
import type { Look } from "./look.ts";
import { SUMMARY_WIDTH } from "./screen-state.ts";

const GAP = 2;

/** The shift in lines; in two columns where one is too short and the terminal is wide enough. */
export function Summary({ look, lines }: { readonly look: Look; readonly lines: readonly string[] | null }) {
  if (lines === null) return <Text>The summary is being put together.</Text>;
  if (lines.length <= look.rows) return <Text wrap="truncate">{lines.join("\n")}</Text>;
  if (look.columns >= 2 * SUMMARY_WIDTH + GAP && lines.length <= 2 * look.rows) {
    const half = Math.ceil(lines.length / 2);
    const rows = lines
      .slice(0, half)
      .map((line, i) => `${line.padEnd(SUMMARY_WIDTH + GAP)}${lines[half + i] ?? ""}`);
    return <Text wrap="truncate">{rows.join("\n")}</Text>;
  }
  const shown = lines.slice(0, look.rows - 1);
  return (
    <Text wrap="truncate">
      {[...shown, `And ${lines.length - shown.length} lines more: make the window taller.`].join("\n")}
    </Text>
  );
}
