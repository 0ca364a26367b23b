import type { Disposition } from "./disposition.ts";
import { counts } from "./doubts.ts";
import { type AttemptSummary, type IndexReader, RecordIndex } from "./index-db.ts";

type Asked = Pick<IndexReader, "lastChecks">;

/**
 * The check that has put a unit in doubt without the hold being recorded yet: the station was cut off in between, or could not
 * write it, and makes up for it at its next start.
 * @param attempts all of the unit's
 * @param dispositions those that name the unit
 * @returns null where there is none, as nearly always; a failed check whose hold is there names the unit in it
 */
function checkWithoutHold(
  attempts: readonly AttemptSummary[],
  dispositions: readonly Disposition[],
  records: Asked,
): AttemptSummary | null {
  const valid = attempts.filter((it) => counts(it) && it.verdict !== "void");
  const newest = valid.sort((a, b) => a.attempt - b.attempt).at(-1);
  if (!newest) return null;
  const proven = new Set<string>();
  for (const check of records.lastChecks(newest.model, newest.sequence)) {
    if (check.verdict === "pass") proven.add(check.serial);
    else if (!proven.has(check.serial) && !dispositions.some((it) => it.reference === check.sha256))
      return check;
  }
  return null;
}

/** As `checkWithoutHold`, by the folder's index; null where there is none that can be read. */
export function checkWithoutHoldIn(
  folder: string,
  attempts: readonly AttemptSummary[],
  dispositions: readonly Disposition[],
): AttemptSummary | null {
  const index = RecordIndex.openToRead(folder);
  try {
    return index ? checkWithoutHold(attempts, dispositions, index) : null;
  } catch {
    return null;
  } finally {
    index?.close();
  }
}
