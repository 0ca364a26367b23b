import { Text } from "ink";
import type { Look } from "./look.ts";
import { type ScreenState, SUMMARY_WIDTH } from "./screen-state.ts";

const GAP = 2;

/** The shift in lines; in two columns where one is too short and the terminal is wide enough, else page by page. */
export function Summary({
  look,
  state: { summaryLines: lines, summaryPage },
}: {
  readonly look: Look;
  readonly state: Pick<ScreenState, "summaryLines" | "summaryPage">;
}) {
  if (lines === null) return <Text>The summary is being put together.</Text>;
  if (lines.length <= look.rows) return <Text wrap="truncate">{lines.join("\n")}</Text>;
  if (look.columns >= 2 * SUMMARY_WIDTH + GAP && lines.length <= 2 * look.rows) {
    const half = Math.ceil(lines.length / 2);
    const rows = lines
      .slice(0, half)
      .map((line, i) => `${line.padEnd(SUMMARY_WIDTH + GAP)}${lines[half + i] ?? ""}`);
    return <Text wrap="truncate">{rows.join("\n")}</Text>;
  }
  const most = look.rows - 1;
  const pages = Math.ceil(lines.length / most);
  const page = ((summaryPage % pages) + pages) % pages;
  return (
    <Text wrap="truncate">
      <Text bold inverse>{`Page ${page + 1} of ${pages}: the keys Down and Up turn it.`}</Text>
      {`\n${lines.slice(page * most, (page + 1) * most).join("\n")}`}
    </Text>
  );
}
