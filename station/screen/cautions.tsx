import { Box, Text } from "ink";
import { CAUTIONS, SIMULATED_CAUTION } from "./cautions-text.ts";
import { Words } from "./words.tsx";
import { wrapWords } from "./wrap-words.ts";

/** The cautions, as the first frame has them already. */
export function Cautions({
  handsAreSimulated,
  width,
}: {
  readonly handsAreSimulated: boolean;
  readonly width: number;
}) {
  return (
    <Box flexDirection="column">
      <Text bold>Cautions</Text>
      {CAUTIONS.map((caution) => (
        <Words key={caution} text={`- ${caution}`} width={width} indent="  " />
      ))}
      {handsAreSimulated ? <Words text={SIMULATED_CAUTION} width={width} /> : null}
    </Box>
  );
}

/** @returns rows that the cautions take */
export function cautionRows(handsAreSimulated: boolean, width: number): number {
  const lines = CAUTIONS.flatMap((caution) => wrapWords(`- ${caution}`, width, "  "));
  return 1 + lines.length + (handsAreSimulated ? wrapWords(SIMULATED_CAUTION, width).length : 0);
}
