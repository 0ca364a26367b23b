import { formatNumber } from "../../limits/print-quantity.ts";
import type { Traveller } from "./traveller.ts";

/** When a measurement ended early, its verdict being certain. */
export interface DecidedEarly {
  /** From the shut-off, which is the end of the fill. */
  readonly afterFill_s: number;
  readonly look: number;
}

/** @returns null where it was measured to the end, and where looks are not taken */
export function decidedEarly({
  how,
}: Pick<Traveller["characteristics"][number], "how">): DecidedEarly | null {
  return how?.looks?.early ? { afterFill_s: how.to_s, look: how.looks.taken } : null;
}

/** @example secondsText(6.2987) // "6.3 s" */
export function secondsText(time_s: number): string {
  return `${formatNumber(time_s, { decimals: 1 })} s`;
}
