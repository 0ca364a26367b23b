import type { Disposition } from "./disposition.ts";
import type { AttemptSummary } from "./index-db.ts";
import { summaryOf } from "./indexed-attempt.ts";
import type { FoundUnit } from "./read-attempts.ts";
import { type UnitState, unitState } from "./unit-state.ts";

/**
 * How a unit stands by what was found of it. It is good only where all of it is as it was recorded: whatever is missing might be the
 * fail or the hold that nobody is to see.
 * @param decisionsProblem why its dispositions can't be relied on; null where they can
 * @param awaited holds that a failed check calls for and that are not recorded yet, see `foundAwaited`
 */
export function foundState(
  serial: string,
  { attempts, open, gaps }: FoundUnit,
  dispositions: readonly Disposition[],
  decisionsProblem: string | null,
  awaited: readonly Disposition[] = [],
): UnitState {
  const known = recordedOf(serial, attempts);
  const state = unitState({ serial, attempts: known, dispositions: [...dispositions, ...awaited] });
  const [facts] = open;
  const against =
    attempts.some(({ problem }) => problem !== null) || gaps.length > 0
      ? "not all of its records are there as they were recorded"
      : decisionsProblem !== null
        ? "what was decided about it can't be relied on"
        : facts !== undefined && !facts.draft
          ? "a test of it has begun and is not recorded yet"
          : null;
  if (state.state !== "good" || against === null) return state;
  return { ...state, state: "in_doubt", since: null, by: null, reason: against };
}

/** @returns the unit's attempts, as far as they can be read */
function recordedOf(serial: string, attempts: FoundUnit["attempts"]): AttemptSummary[] {
  return attempts.flatMap(({ traveller, sha256, path }) =>
    traveller?.serial === serial ? [summaryOf(traveller, sha256, path)] : [],
  );
}
