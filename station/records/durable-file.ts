import { dirname, join } from "node:path";
import { type Disk, REAL_DISK } from "./disk.ts";
import { errnoOf, fileError, RecordError, requireFolderName } from "./record-error.ts";

/**
 * Writes a file once, whole or not at all: it appears under its name only after its bytes are on the disk, it never
 * replaces another, and on return its name is on the disk too and its bytes have been read back. The order is
 * temporary file, fsync, link, fsync of the folder: link refuses an existing name where rename would replace it.
 * @param temp a name not in use, on the same file system
 * @throws RecordError; nothing is left under `path` then, unless the code is IN_DOUBT
 */
export async function writeOnce(
  text: string,
  temp: string,
  path: string,
  disk: Disk = REAL_DISK,
): Promise<void> {
  try {
    await writeSynced(disk, text, temp);
    await disk.link(temp, path);
  } catch (error) {
    await unlinkIfThere(temp, disk);
    throw fileError(error, path, `${path} could not be written`);
  }
  try {
    const [, found] = await Promise.all([
      syncFolder(dirname(path), disk),
      disk.readFile(path),
      unlinkIfThere(temp, disk),
    ]);
    if (found.toString("utf8") !== text) {
      throw new RecordError(
        "IO_FAILED",
        path,
        `${path} reads back differently from what was written. Check the disk.`,
      );
    }
  } catch (error) {
    await takeBack(disk, path, error);
    throw fileError(error, path, `${path} could not be written`);
  }
}

/**
 * Writes a file in the place of the one before, whole or not at all: whoever reads it meanwhile finds the old text or the
 * new. The order is temporary file, fsync, rename, fsync of the folder, and its bytes are read back.
 * @param temp a name not in use, on the same file system
 * @param mode who may read and write it, from its first byte on
 * @throws RecordError
 */
export async function replaceFile(text: string, temp: string, path: string, mode = 0o666): Promise<void> {
  const disk = REAL_DISK;
  try {
    await unlinkIfThere(temp);
    await writeSynced(disk, text, temp, mode);
    await disk.rename(temp, path);
    await syncFolder(dirname(path));
    if ((await disk.readFile(path)).toString("utf8") === text) return;
  } catch (error) {
    await unlinkIfThere(temp);
    throw fileError(error, path, `${path} could not be written`);
  }
  throw new RecordError(
    "IO_FAILED",
    path,
    `${path} reads back differently from what was written. Check the disk.`,
  );
}

/** Makes what was created, renamed or removed in a folder durable. */
export async function syncFolder(folder: string, disk: Disk = REAL_DISK): Promise<void> {
  const handle = await disk.open(folder, "r");
  try {
    await handle.sync();
  } finally {
    await handle.close();
  }
}

/**
 * Makes what is missing of a folder, durably, and refuses one that is read-only before anything is written to it.
 * @param inner a folder below it that is made with it
 * @throws RecordError
 */
export async function makeWritableFolder(
  folder: string,
  inner: string,
  disk: Disk = REAL_DISK,
): Promise<void> {
  requireFolderName(folder);
  try {
    await makeDurably(disk, inner);
    await disk.access(folder, "writable");
    await disk.access(inner, "writable");
  } catch (error) {
    throw fileError(error, folder, `The records folder ${folder} can't be used`);
  }
}

/**
 * Makes the folders of `relative` ("2026/01/05") below `root` durably, each level in the one above. The root itself
 * is never made: a records folder that went away must not come back empty.
 */
export async function makeFolders(root: string, relative: string, disk: Disk = REAL_DISK): Promise<void> {
  let parent = root;
  for (const name of relative.split("/")) {
    const folder = join(parent, name);
    try {
      await disk.mkdir(folder);
    } catch (error) {
      if (errnoOf(error) !== "EEXIST") throw error;
    }
    // Also when it was there: whoever made it may have been stopped before this.
    await syncFolder(parent, disk);
    parent = folder;
  }
}

/** Removes a file that nothing depends on any more; what can't be removed now is removed at the next start. */
export async function unlinkIfThere(path: string, disk: Disk = REAL_DISK): Promise<void> {
  await disk.unlink(path).catch(() => undefined);
}

/** One level at a time: mkdir's own recursive form reports a read-only disk as a missing folder (Node 20). */
async function makeDurably(disk: Disk, folder: string): Promise<void> {
  try {
    await disk.mkdir(folder);
  } catch (error) {
    if (errnoOf(error) === "EEXIST") return;
    if (errnoOf(error) !== "ENOENT" || dirname(folder) === folder) throw error;
    await makeDurably(disk, dirname(folder));
    await disk.mkdir(folder);
  }
  await syncFolder(dirname(folder), disk);
}

async function writeSynced(disk: Disk, text: string, path: string, mode = 0o666): Promise<void> {
  const file = await disk.open(path, "wx", mode);
  try {
    await file.writeFile(text);
    await file.sync();
  } finally {
    await file.close();
  }
}

async function takeBack(disk: Disk, path: string, cause: unknown): Promise<void> {
  try {
    await disk.unlink(path);
    await syncFolder(dirname(path), disk);
  } catch {
    throw new RecordError(
      "IN_DOUBT",
      path,
      `${path} could not be written, and not be removed either. Check the disk, then start the station again: it will find out what is there.`,
      { cause },
    );
  }
}
