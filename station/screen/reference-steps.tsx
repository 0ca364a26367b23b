import { Box, Text } from "ink";
import { WHY_DUE } from "./header.tsx";
import { type Look, tint } from "./look.ts";
import type { PieceOnScreen, ReferenceOnScreen } from "./screen-state.ts";
import { wrapWords } from "./wrap-words.ts";

type Due = Extract<ReferenceOnScreen, { kind: "due" }>;

const KINDS: Readonly<Record<PieceOnScreen["kind"], string>> = {
  tight: "tight reference",
  leak: "leak reference",
  orifice: "reference orifice",
};

/** The reference check step by step: what is done, what is now, what comes next. */
export function ReferenceSteps({ look, due }: { readonly look: Look; readonly due: Due }) {
  const done = due.step - 1;
  const widest = Math.max(0, ...due.pieces.map(({ serial }) => serial.length));
  const steps = due.pieces.map((piece, i) => {
    const label = (i === 0 ? "> NOW" : "  next").padEnd(LABEL_COLUMNS);
    const before = `${label}${String(due.step + i).padEnd(NUMBER_COLUMNS)}${piece.serial.padEnd(widest)}  `;
    const what = `${KINDS[piece.kind]}, ${piece.model}: ${WHY_DUE[piece.why]}`;
    const beside = wrapWords(what, Math.max(LEAST_WHAT_COLUMNS, look.columns - before.length));
    return beside.map((line, k) => (k === 0 ? before : " ".repeat(before.length)) + line);
  });
  const fitting = fittingSteps(steps, look.rows - 1 - (done > 0 ? 1 : 0));
  const more = steps.length - fitting.length;
  return (
    <Box flexDirection="column" flexShrink={0}>
      <Text bold {...tint(look, "yellow")}>
        {`Reference check: step ${due.step} of ${due.of}. No unit is tested before it has passed.`}
      </Text>
      {done > 0 ? <Text>{`  done  ${done === 1 ? "step 1" : `steps 1 to ${done}`}`}</Text> : null}
      {fitting.map((lines, i) => (
        <Text key={lines[0]} bold={i === 0}>
          {lines.join("\n")}
        </Text>
      ))}
      {more > 0 ? <Text>{`  and ${more} more`}</Text> : null}
    </Box>
  );
}

const LABEL_COLUMNS = 8;
const NUMBER_COLUMNS = 3;
const LEAST_WHAT_COLUMNS = 20;

/** All of them, or as many as leave a row to say how many more there are. */
function fittingSteps(steps: readonly (readonly string[])[], rows: number): readonly (readonly string[])[] {
  const height = (some: readonly (readonly string[])[]) => some.reduce((sum, lines) => sum + lines.length, 0);
  if (height(steps) <= rows) return steps;
  let count = steps.length - 1;
  while (count > 1 && height(steps.slice(0, count)) > rows - 1) count--;
  return steps.slice(0, count);
}
