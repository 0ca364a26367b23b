import type { Reason } from "./reason.ts";

/** A unit's label as it was scanned, with what else stood on the line. */
export interface Scan {
  readonly serial: string;
  readonly parts: Readonly<Record<string, string>>;
  /** Of a unit that failed before: number of the reason for testing it again, as the limit file lists them, from 1. */
  readonly retestReason?: number;
  /** What is wrong with the scanned line itself, whatever unit it means. */
  readonly misread?: readonly Reason[];
}
