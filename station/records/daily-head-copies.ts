import { mkdir, open, readdir, readFile, rename } from "node:fs/promises";
import { join } from "node:path";
import { readRecord } from "./chain.ts";
import { DailyHead, isSigned } from "./daily-head.ts";
import { type DailyHeadLog, headName, type WrittenHead } from "./daily-head-log.ts";
import { errnoOf } from "./record-error.ts";

const SUBFOLDER = /^heads-[0-9a-f]{16}$/;
const COPY_NAME = /^(\d{8,15})\.json$/;

/** @returns the folder of one records folder's copies, among those of others: "heads-5f2a..." by the hash of its first head */
export function copiesOf(copiesFolder: string, firstHash: string): string {
  return join(copiesFolder, `heads-${firstHash.slice(0, 16)}`);
}

/** @returns the copies' folders of all records folders. @throws the system's error where it can't be listed */
export async function copyFolders(copiesFolder: string): Promise<readonly string[]> {
  return (await readdir(copiesFolder))
    .filter((name) => SUBFOLDER.test(name))
    .map((name) => join(copiesFolder, name));
}

/** @returns the numbers of the copies in a folder, ascending; none where it is not there. @throws the system's error */
export async function copiedNumbers(folder: string): Promise<readonly number[]> {
  let names: string[];
  try {
    names = await readdir(folder);
  } catch (error) {
    if (errnoOf(error) === "ENOENT") return [];
    throw error;
  }
  return names
    .flatMap((name) => COPY_NAME.exec(name)?.[1] ?? [])
    .map(Number)
    .sort((a, b) => a - b);
}

/**
 * A copy that one of the station's keys has signed; null for one that is damaged or somebody else's: it proves nothing.
 * @param keys null where nobody knows the station's: whatever key the copy names then counts
 * @throws the system's error where it can't be read
 */
export async function readCopy(
  folder: string,
  sequence: number,
  keys: readonly string[] | null,
): Promise<WrittenHead | null> {
  const bytes = await readFile(join(folder, headName(sequence)));
  const record = readRecord(bytes);
  const parsed = record.ok ? DailyHead.safeParse(record.content) : undefined;
  if (!record.ok || !parsed?.success) return null;
  const content = parsed.data;
  if (content.chain.sequence !== sequence || !isSigned(content)) return null;
  if (keys !== null && !keys.includes(content.public_key)) return null;
  return { sequence, sha256: record.sha256, content, text: bytes.toString("utf8") };
}

/**
 * Copies the heads that are not there yet. No link and no sync of a folder: not every file share has them.
 * @throws the system's error; what was copied before stays
 */
export async function copyHeads(log: DailyHeadLog, copiesFolder: string, newest: WrittenHead): Promise<void> {
  const first = newest.sequence === 1 ? newest.sha256 : await log.firstHash();
  if (first === null) return;
  const folder = copiesOf(copiesFolder, first);
  const there = new Set(await copiedNumbers(folder));
  const isLastOnly = there.has(newest.sequence - 1) && there.size >= newest.sequence - 1;
  const missing = isLastOnly ? [newest] : (await log.all()).filter(({ sequence }) => !there.has(sequence));
  // The share's own folder is never made: a share that is not mounted must not be filled below its mount point.
  await mkdir(folder).catch((error: unknown) => {
    if (errnoOf(error) !== "EEXIST") throw error;
  });
  for (const head of missing) {
    if (!there.has(head.sequence)) await writeCopy(folder, head);
  }
}

async function writeCopy(folder: string, { sequence, text }: WrittenHead): Promise<void> {
  const temp = join(folder, `.${headName(sequence)}.part`);
  const file = await open(temp, "w");
  try {
    await file.writeFile(text);
    await file.sync();
  } finally {
    await file.close();
  }
  await rename(temp, join(folder, headName(sequence)));
}
