import { readdir } from "node:fs/promises";
import { join } from "node:path";
import { readIntent } from "./attempt-intent.ts";
import { readAttempts } from "./read-attempts.ts";
import { errnoOf, readError } from "./record-error.ts";
import { OPEN_FOLDER } from "./record-name.ts";
import type { AttemptFacts } from "./traveller.ts";

/**
 * @returns serials of which an attempt has begun and is not recorded yet: under test now, or cut off. Ask this before what is
 * recorded: an attempt that ends meanwhile is then seen there.
 * @throws RecordError FOLDER_MISSING, or why it can't be read
 */
export async function serialsUnderTest(folder: string): Promise<ReadonlySet<string>> {
  const serials = new Set((await openAttempts(folder)).map(({ serial }) => serial));
  for (const serial of serials) {
    // After a power cut the note of an attempt may have come back whose traveller is there.
    if ((await readAttempts(folder, serial)).open.length === 0) serials.delete(serial);
  }
  return serials;
}

/** @returns what has begun and is not recorded yet, for whoever does not hold the folder's lock; a note that can't be read is left out */
export async function openAttempts(folder: string): Promise<AttemptFacts[]> {
  const open: AttemptFacts[] = [];
  for (const name of (await namesOfOpen(folder)).filter((one) => one.endsWith(".json")).sort()) {
    // One that vanishes meanwhile has been recorded; one that can't be read stops the station's next start.
    const intent = await readIntent(join(folder, OPEN_FOLDER, name)).catch(() => undefined);
    if (intent) open.push(intent.facts);
  }
  return open;
}

async function namesOfOpen(folder: string): Promise<string[]> {
  const path = join(folder, OPEN_FOLDER);
  try {
    return await readdir(path);
  } catch (error) {
    // A copy of the dated folders has none; whether there is a records folder at all shows when it is listed.
    if (["ENOENT", "ENOTDIR"].includes(errnoOf(error))) return [];
    throw readError(error, path, `The open attempts in ${path} can't be listed`);
  }
}
