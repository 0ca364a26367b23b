import { setFlagsFromString } from "node:v8";

/** Engines that they were tried with: such flags are no interface, and one that an engine does not know it complains about. */
const TRIED_WITH = /^11\./;

/** Bytes of bytecode that a function runs between two looks at whether to optimize it; the engine's own is 67,584. */
const BYTES_BETWEEN_LOOKS = 600_000;

/**
 * For commands that are done in a second or two. The engine optimizes on other processors whatever seems to be used much, and most of
 * a report's code has been used for the last time when that is ready: a fifth of a page's processor time, a third of a paper's. A loop
 * over a million rows comes to it some milliseconds later than it would.
 */
export function optimizeLater(): void {
  set(`--interrupt-budget=${BYTES_BETWEEN_LOOKS}`);
}

/**
 * For commands that go through much and keep little of it at a time. The engine doubles the room for what is new each time that as
 * much again has outlived a collection: over a million units it comes to eight times the room, though each collection finds next to
 * nothing to keep. Without that their yield takes 12 MB less, and no more time. What keeps much, such as travellers read for want of
 * an index, would take a tenth longer.
 */
export function collectOften(): void {
  // At its start the engine allows no less than two.
  set("--semi-space-growth-factor=1");
}

function set(flag: string): void {
  if (TRIED_WITH.test(process.versions.v8)) setFlagsFromString(flag);
}
