import type { IndexDatabase } from "../records/disk.ts";
import type { Disposition } from "../records/disposition.ts";
import type { CheckedTest } from "../records/suspect-units.ts";
import type { ReadTest, ReadTests } from "./read-tests.ts";

/**
 * The holds that the records await, see `awaitedHolds`, as far as a yield knows the records.
 * @param database the index as it was when the tests were counted; null for none
 * @param later what the index does not have, by number
 * @param dispositionsOf those that name a unit
 * @throws SqliteError
 */
export async function awaitedInYield(
  folder: string,
  database: IndexDatabase | null,
  { tests, unread }: Pick<ReadTests, "tests" | "unread">,
  dispositionsOf: (serial: string) => readonly Disposition[],
): Promise<readonly Disposition[]> {
  const read = tests.map(checkedTest);
  const isCheck = ({ recordKind }: CheckedTest) => recordKind === "reference";
  const known = database && (await import("../records/index-db.ts")).RecordIndex.over(folder, database);
  const hasNone = !read.some(isCheck) && (known === null || known.failedChecks().length === 0);
  if (hasNone && unread.length === 0) return [];
  const { unreadChecks } = await import("../records/unread-checks.ts");
  const checks = unreadChecks(unread, read, (serial) => known?.history(serial) ?? []);
  const later = [...read, ...checks].sort((a, b) => a.sequence - b.sequence);
  const { awaitedHolds, withLater } = await import("../records/hold-awaited.ts");
  return awaitedHolds(withLater(known ?? undefined, later), dispositionsOf);
}

function checkedTest({ serial, sequence, sha256, attempt, at, form, reference }: ReadTest): CheckedTest {
  const { recordKind, draft, verdict, model } = form;
  const [started_at, ended_at] = [at, at];
  return {
    serial,
    sequence,
    sha256,
    attempt,
    started_at,
    ended_at,
    recordKind,
    draft,
    verdict,
    model,
    reference,
  };
}
