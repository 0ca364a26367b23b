import { formatMeasured, formatNumber } from "../../limits/print-quantity.ts";
import { type DispositionDraft, REFERENCE_FAILED } from "./disposition.ts";
import { counts, isSuperseded } from "./doubts.ts";
import type { AttemptSummary } from "./index-db.ts";
import { SpoiltIndex } from "./index-moment.ts";

/** What is asked of a test to find out what a failed check puts in doubt. */
export type CheckedTest = Omit<AttemptSummary, "path" | "id" | "kind" | "codes" | "causes" | "suspect">;

/** What is asked of the records to find out which units a failed reference check puts in doubt. */
export interface AskedRecords {
  history(serial: string): readonly CheckedTest[];
  /** Attempts of a model's units between two sequence numbers, in their order. */
  between(model: string, after: number, before: number): readonly CheckedTest[];
}

/**
 * The holds that failed checks of a reference piece call for, one for each that puts anything in doubt.
 *
 * Which units: those of the check's model whose traveller stands in the chain after the piece's last PASSED check (or the
 * chain's beginning) and before the failed one: by number, not by a clock that somebody may put back. Passed or failed, since
 * a station that reads wrong may have failed a good unit; never drafts, which don't count, nor voids, which claim nothing. Of a
 * unit only its newest valid attempt there, and not even that where a valid attempt came later: it has been tested anew, and
 * what that says is what counts. So a check whose units have all been tested again calls for nothing, now or ever after.
 *
 * A piece that fails twice in a row calls for two holds of the same units. A release between the two said the first failure
 * meant nothing; the second speaks against that.
 *
 * Void and draft checks prove nothing, either way.
 * @throws SpoiltIndex for a test that is in no history
 */
export function holdsCalledFor(
  piece: string,
  records: AskedRecords,
  hasHoldFor: (check: string) => boolean,
): DispositionDraft[] {
  const drafts: DispositionDraft[] = [];
  let lastPassed = 0;
  for (const check of [...records.history(piece)].sort((a, b) => a.sequence - b.sequence)) {
    if (check.recordKind !== "reference" || check.draft || check.verdict === "void") continue;
    if (check.verdict === "pass") lastPassed = check.sequence;
    else if (!hasHoldFor(check.sha256)) {
      const suspects = suspectsOf(check, lastPassed, records);
      if (suspects.length > 0) drafts.push(holdFor(check, suspects));
    }
  }
  return drafts;
}

function suspectsOf(check: CheckedTest, lastPassed: number, records: AskedRecords): CheckedTest[] {
  const newest = new Map<string, CheckedTest>();
  for (const one of records.between(check.model, lastPassed, check.sequence)) {
    if (!counts(one) || one.verdict === "void") continue;
    // Anew, so that the list is in the order of the newest attempts.
    newest.delete(one.serial);
    newest.set(one.serial, one);
  }
  return [...newest.values()].filter(({ serial, attempt, sha256 }) => {
    const history = records.history(serial);
    if (!history.some((it) => it.sha256 === sha256))
      throw new SpoiltIndex(`The index has a test of ${serial} that is none of its own.`);
    return !isSuperseded(attempt, history);
  });
}

function holdFor(check: CheckedTest, suspects: readonly CheckedTest[]): DispositionDraft {
  return {
    kind: "hold",
    by: { name: null, sign_in: "station" },
    units: suspects.map(({ serial, attempt, sha256 }) => ({ serial, attempt, traveller: sha256 })),
    reason: {
      code: REFERENCE_FAILED,
      sentence: `Reference piece ${check.serial} failed its check${readingText(check)}: every unit of ${check.model} since its last passed check is in doubt. Test them again, or have a supervisor release them.`,
    },
    reference: check.sha256,
  };
}

/** @example ", 12.1 mL/min where 5 ± 2 mL/min is certified" */
function readingText({ reference }: Pick<AttemptSummary, "reference">): string {
  if (reference?.measured == null) return "";
  const { measured, certified, tolerance, unit } = reference;
  const comparedWith = [certified - tolerance, certified + tolerance];
  const read = formatMeasured({ value: measured, comparedWith }).value;
  const [of, within] = [certified, tolerance].map((value) => formatNumber(value, { significant: 6 }));
  return `, ${read} ${unit} where ${of} ± ${within} ${unit} is certified`;
}
