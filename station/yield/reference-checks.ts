import type { ReferenceCheckCount } from "./yield-report.ts";

/** A test of a reference piece that counts; void ones prove nothing, and are counted as such. */
export interface CheckedPiece {
  readonly serial: string;
  readonly model: string;
  readonly verdict: "pass" | "fail" | "void";
  /** Its end. */
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
 * @param checks in the order in which they were recorded, which no clock changes
 * @returns by model, then by serial
 */
export function referenceChecks(checks: Iterable<CheckedPiece>): readonly ReferenceCheckCount[] {
  const pieces = new Map<string, ReferenceCheckCount>();
  for (const { serial, model, verdict, at, reference } of checks) {
    const key = JSON.stringify([serial, model]);
    const { passed = 0, failed = 0, voids = 0, last = null } = pieces.get(key) ?? {};
    pieces.set(key, {
      serial,
      model,
      passed: passed + (verdict === "pass" ? 1 : 0),
      failed: failed + (verdict === "fail" ? 1 : 0),
      voids: voids + (verdict === "void" ? 1 : 0),
      last: reference && verdict !== "void" ? { at, verdict, ...reference } : last,
    });
  }
  return [...pieces.values()].sort((a, b) => compared(a.model, b.model) || compared(a.serial, b.serial));
}

function compared(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}
