import { type Disposition, dispositionAt } from "./disposition.ts";
import { LAST_RECORDS } from "./index-db.ts";
import { type CheckedTest, holdsCalledFor } from "./suspect-units.ts";
import type { FailedCheck } from "./unread-checks.ts";

/** What is asked of the records for holds that a station has not made yet. */
export interface LastTests {
  /** Failed checks of reference pieces among the last records, drafts left out. */
  failedChecks(): readonly FailedCheck[];
  history(serial: string): readonly CheckedTest[];
  /** Attempts of a model's units between two sequence numbers, in their order. */
  between(model: string, after: number, before: number): readonly CheckedTest[];
}

/**
 * The holds that failed checks call for and that are not recorded: the station was cut off in between, or could not write them, and
 * makes up for it at its next start. Until then they are as good as made: none of their units may be sent on.
 * @param dispositionsOf those that name a unit; read after the tests, so that a hold made meanwhile is not missed
 * @returns each as if it were recorded, with the number 0, which no record has; none, as nearly always
 */
export function awaitedHolds(
  records: LastTests,
  dispositionsOf: (serial: string) => readonly Disposition[],
): Disposition[] {
  const checks = new Map(records.failedChecks().map((check) => [check.sha256, check]));
  const pieces = new Set([...checks.values()].map(({ serial }) => serial));
  return [...pieces]
    .flatMap((piece) => holdsCalledFor(piece, records, (sha256) => !checks.has(sha256)))
    .flatMap((draft) => {
      const { reference } = draft;
      const check = checks.get(reference ?? "");
      // A hold that was made for the check names every unit that it was called for.
      const isHeld = (serial: string) => dispositionsOf(serial).some((it) => it.reference === reference);
      const units = draft.units.filter(({ serial }) => !isHeld(serial));
      if (!check || units.length === 0) return [];
      const reason = { ...draft.reason, sentence: sentenceFor(check) };
      const hold = dispositionAt({ ...draft, units, reason }, Date.parse(check.ended_at ?? check.started_at));
      return [{ ...hold, chain: { sequence: 0, previous: null } }];
    });
}

function sentenceFor({ serial, unread }: FailedCheck): string {
  if (unread !== undefined) {
    return `A check of reference piece ${serial} was recorded after that test in ${unread}, which can't be read, and may have failed. Tell the quality engineer.`;
  }
  return `Reference piece ${serial} failed its check after that test, and the station has not put the unit on hold yet: start it, if it was cut off or stopped.`;
}

/** What an index has, and tests that it does not have: later ones, or all. */
export function withLater(index: LastTests | undefined, later: readonly CheckedTest[]): LastTests {
  const last = later.at(-1)?.sequence ?? 0;
  return {
    failedChecks: () => [
      ...(index?.failedChecks() ?? []),
      ...later.filter((it) => isFailedCheck(it) && it.sequence > last - LAST_RECORDS),
    ],
    history: (serial) => [...(index?.history(serial) ?? []), ...later.filter((it) => it.serial === serial)],
    between: (model, after, before) => [
      ...(index?.between(model, after, before) ?? []),
      ...later.filter(
        (it) => it.recordKind === "unit" && it.model === model && it.sequence > after && it.sequence < before,
      ),
    ],
  };
}

export function isFailedCheck({ recordKind, draft, verdict }: CheckedTest): boolean {
  return recordKind === "reference" && !draft && verdict === "fail";
}
