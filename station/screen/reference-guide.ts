import type { ReferencePiece } from "../cycle/attempt.ts";
import type { DueReason } from "../cycle/reference-due.ts";
import type { Held, PieceOnScreen, ReferenceOnScreen } from "./screen-state.ts";

/** Ends of sentences: why a piece has to be tested now. */
const BECAUSE: Readonly<Record<DueReason, string>> = {
  never: "it has not been tested here yet",
  failed: "its last test failed",
  void: "its last test was broken off, or could not be measured",
  fault: "the station has stopped since its last test",
  shift: "the shift has begun",
  units: "enough units have been tested since its last test",
  interval: "its last test is too long ago",
  clock: "its last test is dated in the future; have this computer's clock put right",
};

/** What to look at where a piece does not read as certified. */
const LOOK_AT: Readonly<Record<ReferencePiece["kind"], string>> = {
  tight: "look for a leak at the fixture's seals and hoses and at the piece itself",
  leak: "look for a leak at the fixture, and whether the piece's leak is clean and its certificate the right one",
  orifice:
    "look at the inlet's seal, the orifice's edge and the suction hose for dirt or a leak, and have the flow and suction gauges checked",
};

/**
 * The next step of a reference check.
 * @param simulatedHands the program puts the pieces on
 */
export function referenceStep(
  { pieces, step, of }: Extract<ReferenceOnScreen, { kind: "due" }>,
  simulatedHands: boolean,
): string {
  const [piece] = pieces;
  if (!piece) return "The reference check is due.";
  const which = of > 1 ? `Reference check, step ${step} of ${of}` : "Reference check";
  const what = simulatedHands
    ? `press Enter: ${piece.serial} is put on and scanned`
    : `put on ${piece.serial}, close the guard, scan it, press Enter`;
  return `${which}: ${what}. It is due because ${because(piece, simulatedHands)}.`;
}

/** @returns what to do about a piece that does not read as certified, and what that means for units */
export function failedPieceAdvice(kind: ReferencePiece["kind"] | null, held: Held | null): string {
  const lookAt = LOOK_AT[kind ?? "tight"];
  const units = held ? ` ${heldText(held)}: see drumtight suspects.` : "";
  return `does not read as certified: ${lookAt}, then test it again.${units}`;
}

function because({ why }: PieceOnScreen, simulatedHands: boolean): string {
  // No computer's clock is to blame.
  if (why === "clock" && simulatedHands) {
    return "its last test is dated after now: a simulation's clock begins anew with each run";
  }
  return BECAUSE[why];
}

function heldText({ units }: Held): string {
  const are =
    units === 1
      ? "1 unit tested since its last good check is"
      : `${units} units tested since its last good check are`;
  return `${are} on hold`;
}
