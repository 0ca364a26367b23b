import { Box, Text } from "ink";
import { Beside, GAP_COLUMNS } from "./beside.tsx";
import { Block } from "./block.tsx";
import { blockColumns, blockRows, scalesFor } from "./block-size.ts";
import { type Look, tint } from "./look.ts";
import { heldText } from "./outcome.tsx";
import type { ScreenState } from "./screen-state.ts";
import { wrapWords } from "./wrap-words.ts";

/** Commanded, and the hardware's watchdog drops the outputs besides; whether it is safe is for people to see. */
const OUTPUTS = "Commanded: source off, vent open, motor off. Look before you reach in.";

/** Why the station has stopped, and what its outputs were told. */
export function Fault({ look, state }: { readonly look: Look; readonly state: ScreenState }) {
  const { faults, result, held } = state;
  const texts = [
    ...(result?.kind === "verdict" ? [`${result.serial} is ${result.verdict.toUpperCase()}.`] : []),
    ...(held === null ? [] : [heldText(held)]),
  ];
  const layouts = scalesFor(look, 0).map((scale) => {
    const width = look.columns - blockColumns(scale) - GAP_COLUMNS;
    const lines = faults.flatMap((fault) => wrapWords(fault, width));
    const wide = [OUTPUTS, ...texts].flatMap((text) => wrapWords(text, look.columns));
    return { scale, lines, wide, rows: Math.max(blockRows(scale), lines.length) + wide.length };
  });
  const laid = layouts.find(({ rows }) => rows <= look.rows) ?? layouts.at(-1);
  if (!laid) return null;
  return (
    <Box flexDirection="column" flexShrink={0}>
      <Beside
        block={
          <Block look={look} kind="stop" word="STOP" caption="the station is stopped" scale={laid.scale} />
        }
      >
        <Text bold>{laid.lines.join("\n")}</Text>
      </Beside>
      <Text {...tint(look, "yellow")}>{laid.wide.join("\n")}</Text>
    </Box>
  );
}
