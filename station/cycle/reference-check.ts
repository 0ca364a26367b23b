import type { ReferencePiece } from "./attempt.ts";

/** The newest attempt on a reference piece that gave a valid reading. */
export interface PieceCheck {
  readonly at_ms: number;
  readonly sha256: string;
  readonly hasPassed: boolean;
}

export interface ReferenceState {
  /** Pieces that must be tested before production may go on, in the station file's order. */
  readonly due: readonly ReferencePiece[];
  /** The oldest of the checks in force and the travellers of all of them; null while any is due. */
  readonly inForce: { readonly at_ms: number; readonly travellers: readonly string[] } | null;
}

/**
 * Whether the station is proven now: every piece has passed at its newest check, and that not longer ago than the interval.
 * @param every_s interval between checks
 * @param now_ms wall time
 */
export function referenceState(
  pieces: readonly ReferencePiece[],
  newest: ReadonlyMap<string, PieceCheck>,
  every_s: number,
  now_ms: number,
): ReferenceState {
  const due = pieces.filter((piece) => {
    const check = newest.get(piece.serial);
    return !check?.hasPassed || now_ms - check.at_ms > every_s * 1000;
  });
  if (due.length > 0) return { due, inForce: null };
  const checks = pieces.flatMap((piece) => newest.get(piece.serial) ?? []);
  return {
    due,
    inForce: {
      at_ms: Math.min(...checks.map((check) => check.at_ms)),
      travellers: checks.map((check) => check.sha256),
    },
  };
}
