import { readFile } from "node:fs/promises";
import { join, resolve } from "node:path";
import { canonicalText, sha256Hex } from "../records/chain.ts";
import type { TapeContents } from "./tape-file.ts";

/** How a tape's traveller stands to the one on record: whoever can change a tape can change what it says of itself. */
export type TapeRecord = { readonly is: "same" | "another" | "none"; readonly path: string | null };

/** Where a keeper puts a tape: as its record below the records folder, with "flight" between. */
const TAPE_PLACE = /^(.*)[\\/]flight[\\/](\d{4}[\\/]\d{2}[\\/]\d{2}[\\/][^\\/]+)\.tape$/;

/**
 * Holds a tape's traveller and its SHA-256 against the record that lies beside the tape.
 * @param path the tape's; "records/flight/2026/01/05/00000042-A1-1.tape" has its record in
 *   "records/2026/01/05/00000042-A1-1.json"
 * @throws Error of the file system where there is a record that can't be read
 */
export async function recordOfTape(
  path: string,
  { traveller, sha256 }: Pick<TapeContents, "traveller" | "sha256">,
): Promise<TapeRecord> {
  const [, folder, name] = TAPE_PLACE.exec(resolve(path)) ?? [];
  if (folder === undefined || name === undefined) return { is: "none", path: null };
  const record = join(folder, `${name}.json`);
  const bytes = await readFile(record).catch((error: NodeJS.ErrnoException) => {
    if (error.code === "ENOENT" || error.code === "ENOTDIR") return null;
    throw error;
  });
  if (!bytes) return { is: "none", path: record };
  const isSame = sha256Hex(bytes) === sha256 && bytes.toString("utf8") === canonicalText(traveller);
  return { is: isSame ? "same" : "another", path: record };
}
