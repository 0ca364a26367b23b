import type { Disposition } from "./disposition.ts";
import { checkWithoutHoldIn } from "./hold-awaited.ts";
import type { AttemptSummary } from "./index-db.ts";
import { summaryOf } from "./indexed-attempt.ts";
import type { FoundUnit } from "./read-attempts.ts";
import { type UnitState, unitState } from "./unit-state.ts";

/**
 * How a unit stands by what was found of it. It is good only where all of it is as it was recorded: whatever is missing might be the
 * fail or the hold that nobody is to see.
 * @param decisionsProblem why its dispositions can't be relied on; null where they can
 * @param folder of the records, whose index tells of a failed check that has not held the unit yet; null where nobody asks
 */
export function foundState(
  serial: string,
  { attempts, open, gaps }: FoundUnit,
  dispositions: readonly Disposition[],
  decisionsProblem: string | null,
  folder: string | null = null,
): UnitState {
  const known = recordedOf(serial, attempts);
  const state = unitState({ serial, attempts: known, dispositions });
  const [facts] = open;
  const against =
    attempts.some(({ problem }) => problem !== null) || gaps.length > 0
      ? "not all of its records are there as they were recorded"
      : decisionsProblem !== null
        ? "what was decided about it can't be relied on"
        : facts !== undefined && !facts.draft
          ? "a test of it has begun and is not recorded yet"
          : null;
  if (state.state !== "good") return state;
  const check = against === null && folder !== null ? checkWithoutHoldIn(folder, known, dispositions) : null;
  const why = check ? notHeldYet(check) : against;
  return why === null ? state : { ...state, state: "in_doubt", since: null, by: null, reason: why };
}

function notHeldYet({ serial }: AttemptSummary): string {
  return `reference piece ${serial} failed its check after that test, and the station, cut off or stopped since, has not put it on hold yet`;
}

/** @returns the unit's attempts, as far as they can be read */
export function recordedOf(serial: string, attempts: FoundUnit["attempts"]): AttemptSummary[] {
  return attempts.flatMap(({ traveller, sha256, path }) =>
    traveller?.serial === serial ? [summaryOf(traveller, sha256, path)] : [],
  );
}
