import type { ReferenceCheckCount } from "./yield-report.ts";

/** Tests of a reference piece that count, and came to the same; void ones prove nothing, and are counted as such. */
export interface CheckedPiece {
  readonly serial: string;
  readonly model: string;
  readonly verdict: "pass" | "fail" | "void";
  readonly checks: number;
  /** End of the newest of them, whose reading it is. */
  readonly at: string;
  readonly reference: {
    readonly measured: number | null;
    readonly certified: number;
    readonly tolerance: number;
    readonly unit: string;
  } | null;
}

/**
 * How often each reference piece was checked, and what came of it last.
 * @param pieces in the order in which their newest were recorded, which no clock changes
 * @returns by model, then by serial
 */
export function referenceChecks(pieces: Iterable<CheckedPiece>): readonly ReferenceCheckCount[] {
  const counts = new Map<string, ReferenceCheckCount>();
  for (const { serial, model, verdict, checks, at, reference } of pieces) {
    const key = JSON.stringify([serial, model]);
    const { passed = 0, failed = 0, voids = 0, last = null } = counts.get(key) ?? {};
    counts.set(key, {
      serial,
      model,
      passed: passed + (verdict === "pass" ? checks : 0),
      failed: failed + (verdict === "fail" ? checks : 0),
      voids: voids + (verdict === "void" ? checks : 0),
      last: reference && verdict !== "void" ? { at, verdict, ...reference } : last,
    });
  }
  return [...counts.values()].sort((a, b) => compared(a.model, b.model) || compared(a.serial, b.serial));
}

function compared(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}
