import { Box, Text } from "ink";
import type { Look } from "./look.ts";
import type { ConversationOnScreen } from "./screen-state.ts";

const LEAST_COLUMNS = 38;
const GAP = 2;
/** "-12.34 s  " */
const TIME_COLUMNS = 10;

/** What was last said on the cables of the instruments, and how long before the newest of it. */
export function Conversations({
  look,
  conversations,
}: {
  readonly look: Look;
  readonly conversations: readonly ConversationOnScreen[];
}) {
  if (conversations.length === 0) return <Text>Nothing has been said on the cables yet.</Text>;
  const across = Math.min(
    conversations.length,
    Math.max(1, Math.floor((look.columns + GAP) / (LEAST_COLUMNS + GAP))),
  );
  const down = Math.ceil(conversations.length / across);
  const width = Math.floor((look.columns - GAP * (across - 1)) / across);
  const height = Math.max(2, Math.floor(look.rows / down));
  const newest_s = Math.max(...conversations.flatMap(({ lines }) => lines.map(({ t_s }) => t_s)));
  return (
    <Box flexDirection="row" flexWrap="wrap" columnGap={GAP} flexShrink={0}>
      {conversations.map(({ instrument, lines }) => (
        <Box key={instrument} flexDirection="column" width={width} height={height} overflow="hidden">
          <Text bold wrap="truncate">
            {instrument}
          </Text>
          {lines.length === 0 ? <Text> nothing</Text> : null}
          {lines.slice(-(height - 1)).map((line, i) => (
            // biome-ignore lint/suspicious/noArrayIndexKey: lines may be the same, and nothing is moved
            <Text key={i} wrap="truncate">
              {lineText(line, newest_s)}
            </Text>
          ))}
        </Box>
      ))}
    </Box>
  );
}

/** Sent and heard differ by word and arrow. */
function lineText({ t_s, direction, text }: ConversationOnScreen["lines"][number], newest_s: number): string {
  const before = `${(t_s - newest_s).toFixed(2)} s`.replace("-0.00", "0.00");
  return `${before.padStart(TIME_COLUMNS - 1)} ${direction === "sent" ? "sent  >" : "heard <"} ${text}`;
}
