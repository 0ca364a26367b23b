import type { Disposition } from "./disposition.ts";
import type { AttemptSummary } from "./index-db.ts";
import { summaryOf } from "./indexed-attempt.ts";
import type { FoundUnit } from "./read-attempts.ts";
import { inDoubt, NOT_ALL_THERE, type UnitState, unitState } from "./unit-state.ts";

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
      ? NOT_ALL_THERE
      : decisionsProblem !== null
        ? "what was decided about it can't be relied on"
        : facts !== undefined && !facts.draft
          ? "a test of it has begun and is not recorded yet"
          : null;
  if (against === null) return state;
  // Nor is it untested, where it may only be that its tests can't be read.
  const isUnread = state.state === "none" && known.length < attempts.length;
  return state.state === "good" || isUnread ? inDoubt(state, against) : state;
}

/** @returns the unit's attempts, as far as they can be read */
function recordedOf(serial: string, attempts: FoundUnit["attempts"]): AttemptSummary[] {
  return attempts.flatMap(({ traveller, sha256, path }) =>
    traveller?.serial === serial ? [summaryOf(traveller, sha256, path)] : [],
  );
}
