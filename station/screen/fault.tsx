import { Box, Text } from "ink";
import { Beside, GAP_COLUMNS } from "./beside.tsx";
import { Block } from "./block.tsx";
import { blockColumns, blockRows, scalesFor } from "./block-size.ts";
import { type Look, tint } from "./look.ts";
import { heldText, shownVerdict } from "./outcome.tsx";
import type { ScreenState } from "./screen-state.ts";
import { cut, wrapAround, wrapWords } from "./wrap-words.ts";

/** The hardware's watchdog drops the outputs besides; whether it is safe is for people to see. */
const COMMANDED = "Commanded: source off, vent open, motor off. Look before you reach in.";
const NOT_CONFIRMED = "Commanded, but NOT confirmed: source off, vent open, motor off. Do not reach in.";

/** Why the station has stopped, and what its outputs were told. */
export function Fault({ look, state }: { readonly look: Look; readonly state: ScreenState }) {
  const { faults, result, held, observed } = state;
  const outputs = observed.areOutputsSafe ? COMMANDED : NOT_CONFIRMED;
  const texts = [
    ...(result?.kind === "verdict" ? [`${result.serial} is ${shownVerdict(result)}.`] : []),
    ...(held === null ? [] : [heldText(held)]),
  ];
  const layouts = scalesFor(look, 0).map((scale) => {
    const room = {
      beside: look.columns - blockColumns(scale) - GAP_COLUMNS,
      rows: blockRows(scale),
      columns: look.columns,
    };
    const { beside, below } = wrapAround(faults, room);
    const last = [outputs, ...texts].flatMap((text) => wrapWords(text, look.columns));
    return { scale, beside, below, last, rows: room.rows + below.length + last.length };
  });
  const laid = layouts.find(({ rows }) => rows <= look.rows) ?? layouts.at(-1);
  if (!laid) return null;
  const spare = Math.max(0, look.rows - blockRows(laid.scale));
  const last = cut(laid.last, spare);
  const below = cut(laid.below, spare - last.length);
  return (
    <Box flexDirection="column" flexShrink={0}>
      <Beside
        block={<Block look={look} kind="stop" word="STOP" caption="station stopped" scale={laid.scale} />}
      >
        <Text bold>{laid.beside.join("\n")}</Text>
      </Beside>
      {below.length > 0 ? <Text bold>{below.join("\n")}</Text> : null}
      {last.length > 0 ? <Text {...tint(look, "yellow")}>{last.join("\n")}</Text> : null}
    </Box>
  );
}
