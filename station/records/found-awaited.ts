import type { Disposition } from "./disposition.ts";
import { RecordIndex } from "./index-db.ts";
import type { ReadUnit } from "./read-attempts.ts";

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
): Promise<readonly Disposition[]> {
  const holds =
    (indexHasAll ? await byIndex(folder, dispositions) : null) ??
    (await (await import("./awaited-beside.ts")).awaitedBeside(folder, () => () => dispositions));
  return holds.filter(({ units }) => units.some((unit) => unit.serial === serial));
}

/** @returns what this unit awaits, perhaps beside what others do not; null where the index can't be read any more */
async function byIndex(
  folder: string,
  dispositions: readonly Disposition[],
): Promise<readonly Disposition[] | null> {
  const index = RecordIndex.openToRead(folder);
  if (!index) return null;
  try {
    const isMade = ({ sha256 }: { readonly sha256: string }) =>
      dispositions.some(({ reference }) => reference === sha256);
    if (index.failedChecks().every(isMade)) return [];
    const { awaitedHolds } = await import("./hold-awaited.ts");
    return awaitedHolds(index, () => dispositions);
  } catch {
    return null;
  } finally {
    index.close();
  }
}
