import { extname, join } from "node:path";
import { z } from "zod";
import { sha256Hex } from "./chain.ts";
import { type Disk, REAL_DISK } from "./disk.ts";
import { makeFolders, unlinkIfThere, writeOnce } from "./durable-file.ts";
import { errnoOf, fileError, notAsRecorded } from "./record-error.ts";
import { Sha256Hex, Text } from "./record-words.ts";

/** Their folder in the records folder. */
export const KEPT_FILES = "kept";

/** A file that decided about units: which, and by its SHA-256 where its copy is kept. */
export const KeptFile = z.strictObject({
  what: z.enum(["station_file", "limit_file", "approval", "calibration"]),
  /** The file's own, without folders. */
  name: Text,
  sha256: Sha256Hex,
});
export type KeptFile = z.infer<typeof KeptFile>;

/** A file that is about to decide about units. */
export interface FileInForce {
  readonly what: KeptFile["what"];
  readonly name: string;
  readonly text: string;
}

/** @returns where a file's copy lies in the records folder: "kept/5f2a....yaml" */
export function keptPath({ name, sha256 }: Pick<KeptFile, "name" | "sha256">): string {
  const kind = extname(name);
  return `${KEPT_FILES}/${sha256}${kind === ".yaml" || kind === ".json" ? kind : ""}`;
}

/**
 * Keeps a copy of each file in the records folder, written once and named by its content, so that years later it can be
 * said what judged a unit.
 * @returns what is kept, in the order given
 * @throws RecordError CORRUPT where a copy that is there is not what its name says; DISK_FULL ...
 */
export async function keepFiles(
  folder: string,
  files: readonly FileInForce[],
  disk: Disk = REAL_DISK,
): Promise<readonly KeptFile[]> {
  const kept = files.map(({ what, name, text }) => ({ what, name, sha256: sha256Hex(text) }));
  try {
    await makeFolders(folder, KEPT_FILES, disk);
    for (const [at, file] of kept.entries()) {
      const path = join(folder, keptPath(file));
      const there = await readIfThere(path, disk);
      if (there === null) {
        await unlinkIfThere(temp(folder, file), disk);
        await writeOnce(files[at]?.text ?? "", temp(folder, file), path, disk);
      }
      if (there !== null && sha256Hex(there) !== file.sha256) {
        throw notAsRecorded(path, "its content is not what its name says");
      }
    }
  } catch (error) {
    throw fileError(error, folder, `What judges the units could not be kept in ${folder}`);
  }
  return kept;
}

async function readIfThere(path: string, disk: Disk): Promise<Buffer | null> {
  try {
    return await disk.readFile(path);
  } catch (error) {
    if (errnoOf(error) === "ENOENT") return null;
    throw error;
  }
}

/** Only the station that has the folder writes here, so that what a stopped one left half-written may be written over. */
function temp(folder: string, { sha256 }: KeptFile): string {
  return join(folder, KEPT_FILES, `.${sha256}.part`);
}
