import { Box, Text } from "ink";
import { CAUTIONS, SIMULATED_CAUTION } from "./cautions-text.ts";
import { Words } from "./words.tsx";

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
