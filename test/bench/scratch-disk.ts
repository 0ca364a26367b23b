import { mkdtempSync, rmSync, statfsSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { packageRoot } from "../../station/package-root.ts";

/** Linux's numbers of file systems that live in memory: tmpfs and ramfs (statfs(2), linux/magic.h). */
const IN_MEMORY = [0x01021994, 0x858458f6];

/**
 * Lends a new folder on a disk, and removes it afterwards: where files are kept in memory, fsync costs nothing and
 * a bench of it says nothing.
 */
export async function onScratchDisk<T>(work: (folder: string) => Promise<T>): Promise<T> {
  const parents = [tmpdir(), join(packageRoot(), "dist")];
  const parent = parents.find((folder) => !IN_MEMORY.includes(statfsSync(folder).type));
  if (parent === undefined) {
    throw new Error(`${parents.join(" and ")} are kept in memory: set TMPDIR to a folder on a disk.`);
  }
  const folder = mkdtempSync(join(parent, "drumtight-bench-"));
  try {
    return await work(folder);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
