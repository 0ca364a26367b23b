import { Box, Text } from "ink";
import { WHY_DUE } from "./header.tsx";
import { type Look, tint } from "./look.ts";
import type { PieceOnScreen, ReferenceOnScreen } from "./screen-state.ts";

type Due = Extract<ReferenceOnScreen, { kind: "due" }>;

const KINDS: Readonly<Record<PieceOnScreen["kind"], string>> = {
  tight: "tight reference",
  leak: "leak reference",
  orifice: "reference orifice",
};

/** The reference check step by step: what is done, what is now, what comes next. */
export function ReferenceSteps({ look, due }: { readonly look: Look; readonly due: Due }) {
  const done = due.step - 1;
  const room = look.rows - 2 - (done > 0 ? 1 : 0);
  const shown = due.pieces.slice(0, due.pieces.length <= room ? room : Math.max(1, room - 1));
  const more = due.pieces.length - shown.length;
  const widest = Math.max(0, ...shown.map(({ serial }) => serial.length));
  return (
    <Box flexDirection="column" flexShrink={0}>
      <Text bold {...tint(look, "yellow")}>
        {`Reference check: step ${due.step} of ${due.of}. No unit is tested before it has passed.`}
      </Text>
      {done > 0 ? <Text>{`  done  ${done === 1 ? "step 1" : `steps 1 to ${done}`}`}</Text> : null}
      {shown.map((piece, i) => (
        <Text key={piece.serial} bold={i === 0} wrap="truncate">
          {`${i === 0 ? "> NOW " : "  next"}  ${due.step + i}  ${piece.serial.padEnd(widest)}  ${KINDS[piece.kind]}, ${piece.model}: ${WHY_DUE[piece.why]}`}
        </Text>
      ))}
      {more > 0 ? <Text>{`  and ${more} more`}</Text> : null}
    </Box>
  );
}
