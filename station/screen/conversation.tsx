import { Box, Text } from "ink";
import type { Look } from "./look.ts";
import type { ConversationOnScreen } from "./screen-state.ts";

const LEAST_COLUMNS = 38;
const GAP = 2;
/** The instrument and its newest line. */
const LEAST_ROWS = 2;
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
  const faulty = conversations.filter(({ isFaulty }) => isFaulty);
  const others = conversations.filter(({ isFaulty }) => !isFaulty);
  const across = Math.max(
    1,
    Math.min(others.length, Math.floor((look.columns + GAP) / (LEAST_COLUMNS + GAP))),
  );
  const down = Math.ceil(others.length / across);
  const mostFaulty = Math.floor((look.rows - LEAST_ROWS * down) / Math.max(1, faulty.length));
  const heights = faulty.map(({ lines }) => Math.max(LEAST_ROWS, Math.min(1 + lines.length, mostFaulty)));
  const rowsLeft = look.rows - heights.reduce((sum, height) => sum + height, 0);
  const width = Math.floor((look.columns - GAP * (across - 1)) / across);
  const height = Math.max(LEAST_ROWS, Math.floor(rowsLeft / Math.max(1, down)));
  const newest_s = newestOf(others);
  return (
    <>
      {faulty.map((conversation, k) => (
        <LastLines
          key={conversation.instrument}
          title={`${conversation.instrument}, which stopped the station: its last lines up to then`}
          lines={conversation.lines}
          newest_s={newestOf([conversation])}
          width={look.columns}
          height={heights[k] ?? LEAST_ROWS}
        />
      ))}
      <Box flexDirection="row" flexWrap="wrap" columnGap={GAP} flexShrink={0}>
        {others.map(({ instrument, lines }) => (
          <LastLines
            key={instrument}
            title={faulty.length > 0 ? `${instrument}, until now` : instrument}
            {...{ lines, newest_s, width, height }}
          />
        ))}
      </Box>
    </>
  );
}

function LastLines({
  title,
  lines,
  newest_s,
  width,
  height,
}: {
  readonly title: string;
  readonly lines: ConversationOnScreen["lines"];
  readonly newest_s: number;
  readonly width: number;
  readonly height: number;
}) {
  return (
    <Box flexDirection="column" width={width} height={height} overflow="hidden" flexShrink={0}>
      <Text bold wrap="truncate">
        {title}
      </Text>
      {lines.length === 0 ? <Text> nothing</Text> : null}
      {lines.slice(-(height - 1)).map((line, i) => (
        // biome-ignore lint/suspicious/noArrayIndexKey: lines may be the same, and nothing is moved
        <Text key={i} wrap="truncate">
          {lineText(line, newest_s)}
        </Text>
      ))}
    </Box>
  );
}

function newestOf(conversations: readonly ConversationOnScreen[]): number {
  return Math.max(...conversations.flatMap(({ lines }) => lines.map(({ t_s }) => t_s)));
}

/** Sent and heard differ by word and arrow. */
function lineText({ t_s, direction, text }: ConversationOnScreen["lines"][number], newest_s: number): string {
  const before = `${(t_s - newest_s).toFixed(2)} s`.replace("-0.00", "0.00");
  return `${before.padStart(TIME_COLUMNS - 1)} ${direction === "sent" ? "sent  >" : "heard <"} ${text}`;
}
