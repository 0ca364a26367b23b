import type { ReferencePiece } from "./attempt.ts";

/** When reference pieces have to be tested, as the station file says. */
export interface ReferenceRules {
  /** A check is in force no longer than this. */
  readonly every_s: number;
  /** Nor for more units of the model than this; null: for any number. */
  readonly everyUnits: number | null;
  /** Every shift begins with one. */
  readonly atShiftStart: boolean;
  /** A fault of the station ends it: whatever happened may have touched the instruments. */
  readonly afterFault: boolean;
}

/** The newest attempt on a reference piece that gave a valid reading, and what has happened since. */
export interface PieceCheck {
  readonly at_ms: number;
  readonly sha256: string;
  readonly hasPassed: boolean;
  /** Units of the piece's model judged since. */
  readonly unitsSince: number;
  readonly hasFaultedSince: boolean;
  /** Begun again since, and not brought to an end: nobody knows what it would have read. */
  readonly wasVoidSince: boolean;
  /** The clock was put back to before it since: nobody knows any more how long ago it was. */
  readonly wasClockPutBack: boolean;
}

/** Why a piece must be tested; "clock" for a check that the clock was put back behind, "void" where a later one came to nothing. */
export type DueReason = "never" | "failed" | "void" | "fault" | "shift" | "units" | "interval" | "clock";

export type DuePiece = ReferencePiece & { readonly why: DueReason };

export interface ReferenceState {
  /** Pieces that must be tested before production may go on, in the station file's order. */
  readonly due: readonly DuePiece[];
  /** The oldest of the checks in force and the travellers of all of them; null while any is due, and without pieces. */
  readonly inForce: { readonly at_ms: number; readonly travellers: readonly string[] } | null;
  /** When the first of them will be due, by the interval or the next shift's begin, wall time; null as `inForce`. */
  readonly until_ms: number | null;
  /** Units that may still be judged before; null as `inForce`, and where their number does not count. */
  readonly unitsLeft: number | null;
}

/** The moment to be decided for. */
export interface ReferenceMoment {
  /** Wall time to decide for, now or later. */
  readonly at_ms: number;
  /** Begin of the shift that `at_ms` falls into and of the next; null where the station file has no shifts. */
  readonly shift: { readonly from_ms: number; readonly to_ms: number } | null;
}

/**
 * Whether the station is proven: every piece has passed at its newest check, and nothing has ended that check's force since.
 */
export function referenceState(
  pieces: readonly ReferencePiece[],
  newest: ReadonlyMap<string, PieceCheck>,
  rules: ReferenceRules,
  moment: ReferenceMoment,
): ReferenceState {
  const due = pieces.flatMap((piece): DuePiece[] => {
    const why = whyDue(newest.get(piece.serial), rules, moment);
    return why ? [{ ...piece, why }] : [];
  });
  if (due.length > 0 || pieces.length === 0) return { due, inForce: null, until_ms: null, unitsLeft: null };
  const checks = pieces.flatMap((piece) => newest.get(piece.serial) ?? []);
  const oldest_ms = Math.min(...checks.map(({ at_ms }) => at_ms));
  const { everyUnits, every_s, atShiftStart } = rules;
  const nextShift_ms = (atShiftStart && moment.shift?.to_ms) || Number.POSITIVE_INFINITY;
  return {
    due,
    inForce: { at_ms: oldest_ms, travellers: checks.map(({ sha256 }) => sha256) },
    until_ms: Math.min(oldest_ms + every_s * 1000, nextShift_ms),
    unitsLeft:
      everyUnits === null ? null : everyUnits - Math.max(...checks.map(({ unitsSince }) => unitsSince)),
  };
}

function whyDue(
  check: PieceCheck | undefined,
  rules: ReferenceRules,
  { at_ms, shift }: ReferenceMoment,
): DueReason | null {
  if (!check) return "never";
  if (!check.hasPassed) return "failed";
  if (check.wasVoidSince) return "void";
  if (check.wasClockPutBack) return "clock";
  if (rules.afterFault && check.hasFaultedSince) return "fault";
  if (rules.atShiftStart && shift && check.at_ms < shift.from_ms) return "shift";
  if (rules.everyUnits !== null && check.unitsSince >= rules.everyUnits) return "units";
  if (at_ms - check.at_ms > rules.every_s * 1000) return "interval";
  return null;
}
