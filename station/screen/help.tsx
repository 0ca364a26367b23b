import { Box, Text } from "ink";
import { keyMeanings, type Meaning, WORD_MEANINGS } from "./help-text.ts";
import type { Look } from "./look.ts";
import type { ScreenState } from "./screen-state.ts";
import { STATE_MEANINGS } from "./station-states.ts";
import { wrapWords } from "./wrap-words.ts";

const GAP = 2;

/** Every key and every word's meaning, side by side; where there is room, what the station does now. */
export function Help({ look, state }: { readonly look: Look; readonly state: ScreenState }) {
  const width = Math.floor((look.columns - GAP) / 2);
  const keys = linesOf(keyMeanings(state.facts), width);
  const words = linesOf(WORD_MEANINGS, width);
  const now = wrapWords(`Now: ${STATE_MEANINGS[state.machine] ?? state.machine}`, look.columns);
  const hasRoom = Math.max(keys.length, words.length) + 1 + now.length < look.rows;
  return (
    <Box flexDirection="column" flexShrink={0}>
      {hasRoom ? <Text>{[...now, " "].join("\n")}</Text> : null}
      <Box gap={GAP} flexShrink={0}>
        <Meanings title="Keys" lines={keys} width={width} />
        <Meanings title="Words" lines={words} width={width} />
      </Box>
    </Box>
  );
}

interface Line {
  readonly what: string;
  readonly means: string;
}

function Meanings({
  title,
  lines,
  width,
}: {
  readonly title: string;
  readonly lines: readonly Line[];
  readonly width: number;
}) {
  return (
    <Box flexDirection="column" width={width} flexShrink={0}>
      <Text bold underline>
        {title}
      </Text>
      {lines.map(({ what, means }, i) => (
        // biome-ignore lint/suspicious/noArrayIndexKey: nothing is moved
        <Text key={i}>
          <Text bold>{what}</Text>
          {means}
        </Text>
      ))}
    </Box>
  );
}

/** A meaning goes on after its word; further lines are indented. */
function linesOf(meanings: readonly Meaning[], width: number): readonly Line[] {
  return meanings.flatMap(([what, means]) =>
    wrapWords(`${what.replaceAll(" ", "_")}: ${means}`, width, "  ").map((line, i) =>
      i === 0 ? { what, means: line.slice(what.length) } : { what: "", means: line },
    ),
  );
}
