import type { Disposition } from "./disposition.ts";
import type { IndexReader } from "./index-db.ts";
import type { ReadUnit } from "./read-attempts.ts";
import type { SharedIndex } from "./shared-index.ts";

/**
 * The holds that a unit awaits, see `awaitedHolds`: by the index alone where the index has every record, since `find` is to be quick
 * and hardly ever meets one.
 * @param dispositions those that name the unit, read after its attempts
 * @throws RecordError where the folder, or a file, can't be read
 */
export async function foundAwaited(
  folder: string,
  serial: string,
  { indexHasAll }: Pick<ReadUnit, "indexHasAll">,
  dispositions: readonly Disposition[],
  { index }: SharedIndex,
): Promise<readonly Disposition[]> {
  const holds =
    (indexHasAll && index ? await byIndex(index, dispositions) : null) ??
    (await (await import("./awaited-beside.ts")).awaitedBeside(folder, () => () => dispositions));
  return holds.filter(({ units }) => units.some((unit) => unit.serial === serial));
}

/** @returns what this unit awaits, perhaps beside what others do not; null where the index can't be read any more */
async function byIndex(
  index: IndexReader,
  dispositions: readonly Disposition[],
): Promise<readonly Disposition[] | null> {
  try {
    const isMade = ({ sha256 }: { readonly sha256: string }) =>
      dispositions.some(({ reference }) => reference === sha256);
    if (index.failedChecks().every(isMade)) return [];
    const { awaitedHolds } = await import("./hold-awaited.ts");
    return awaitedHolds(index, () => dispositions);
  } catch {
    return null;
  }
}
