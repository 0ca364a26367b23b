import { readdirSync } from "node:fs";
import { UsageError } from "./explain.ts";
import { OPEN_FOLDER } from "./records/record-name.ts";
import type { StationFile } from "./station-file.ts";

const YEAR = /^\d{4}$/;

/**
 * A station that starts while the disk of its records is not mounted would find an empty folder, and forget every unit
 * that failed. So a real station never begins new records by itself: somebody has to say so.
 * @param begins new records are wanted
 * @throws UsageError where there are none and none are to be begun, or the other way round
 */
export function requireRecords(
  { isSimulated }: Pick<StationFile, "isSimulated">,
  folder: string,
  begins: boolean,
): void {
  const isThere = hasRecords(folder);
  if (isThere && begins) {
    throw new UsageError(`There are records in ${folder} already; start without --new-records.`);
  }
  if (isThere || begins || isSimulated) return;
  throw new UsageError(
    `There are no records in ${folder}. If this station has recorded before, its disk is not mounted or the folder was moved: put it back. For a station's first start, add --new-records, once.`,
  );
}

function hasRecords(folder: string): boolean {
  try {
    return readdirSync(folder).some((name) => name === OPEN_FOLDER || YEAR.test(name));
  } catch {
    return false;
  }
}
