import { setFlagsFromString } from "node:v8";

/** Engines that it was tried with: such flags are no interface, and one that an engine does not know it complains about. */
const TRIED_WITH = /^11\./;

/** Bytes of bytecode that a function runs between two looks at whether to optimize it; the engine's own is 67,584. */
const BYTES_BETWEEN_LOOKS = 600_000;

/**
 * For commands that are done in a second or two. The engine optimizes on other processors whatever seems to be used much, and most of
 * a report's code has been used for the last time when that is ready: a fifth of a page's processor time, a third of a paper's. A loop
 * over a million rows comes to it some milliseconds later than it would.
 */
export function optimizeLater(): void {
  if (!TRIED_WITH.test(process.versions.v8)) return;
  setFlagsFromString(`--interrupt-budget=${BYTES_BETWEEN_LOOKS}`);
}
