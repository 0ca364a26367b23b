import { Box } from "ink";
import type { ReactNode } from "react";

export const GAP_COLUMNS = 2;

/** A block, and at its right what belongs to it. */
export function Beside({ block, children }: { readonly block: ReactNode; readonly children: ReactNode }) {
  return (
    <Box gap={GAP_COLUMNS} flexShrink={0}>
      {block}
      <Box flexDirection="column" flexGrow={1} flexShrink={1}>
        {children}
      </Box>
    </Box>
  );
}
