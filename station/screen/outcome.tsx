import { Box, Text } from "ink";
import { Beside, GAP_COLUMNS } from "./beside.tsx";
import { Block } from "./block.tsx";
import { blockColumns, blockRows, scalesFor } from "./block-size.ts";
import { Characteristics, measuredRows } from "./characteristics.tsx";
import type { Look } from "./look.ts";
import { layOutcome } from "./outcome-layout.ts";
import type { Held, Verdict } from "./screen-state.ts";
import { wrapWords } from "./wrap-words.ts";

/** Of a large terminal's rows, for what stands under the block. */
const ROWS_BELOW = 4;

/** A verdict, what it rests on, and where to look. */
export function Outcome({
  look,
  verdict,
  held,
}: {
  readonly look: Look;
  readonly verdict: Verdict;
  readonly held: Held | null;
}) {
  const heldLines = held === null ? [] : wrapWords(heldText(held), look.columns);
  const room = { columns: look.columns, rows: look.rows - heldLines.length };
  const all = measuredRows(verdict.characteristics);
  const layouts = scalesFor(room, ROWS_BELOW).map((scale) => {
    const beside = look.columns - blockColumns(scale) - GAP_COLUMNS;
    const laid = layOutcome({ ...verdict, rows: all }, { ...room, beside, block: blockRows(scale) });
    return { ...laid, scale, width: beside };
  });
  // Rather smaller letters than a row left out.
  const laid = layouts.find(({ rows }) => rows.length === all.length) ?? layouts.at(-1);
  if (!laid) return null;
  const { rows, notes, below, suspects, scale, width } = laid;
  return (
    <Box flexDirection="column" flexShrink={0}>
      <Beside
        block={
          <Block
            look={look}
            kind={verdict.verdict}
            word={verdict.verdict.toUpperCase()}
            caption={verdict.isDraft ? "DRAFT, does not count" : verdict.serial}
            scale={scale}
          />
        }
      >
        <Characteristics look={look} rows={rows} width={width} />
        <Text>{notes.join("\n")}</Text>
      </Beside>
      {below.length > 0 ? <Text>{below.join("\n")}</Text> : null}
      {heldLines.length > 0 ? <Text bold>{heldLines.join("\n")}</Text> : null}
      <Text bold wrap="truncate">
        {suspects.join("\n")}
      </Text>
    </Box>
  );
}

/** @example "ON HOLD: 14 units. ..." */
export function heldText({ units, sentence }: Held): string {
  return `ON HOLD: ${units === 1 ? "1 unit" : `${units} units`}. ${sentence}`;
}
