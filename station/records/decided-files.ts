import type { LogEntry } from "./chained-log.ts";
import type { Disk } from "./disk.ts";
import type { Disposition } from "./disposition.ts";
import { dispositionChain } from "./disposition-log.ts";

/**
 * Every disposition of a folder, checked link by link, for its index: all of them durably there, for the index must not know what a
 * power cut still takes away.
 * @throws RecordError CORRUPT
 */
export async function decidedInFiles(folder: string, disk?: Disk): Promise<readonly LogEntry<Disposition>[]> {
  const log = dispositionChain(folder, disk);
  const entries = await log.after(null);
  if (entries.length > 0) await log.sync();
  return entries;
}
