import { join } from "node:path";
import { sha256Hex } from "./chain.ts";
import { type Disk, REAL_DISK } from "./disk.ts";
import type { IndexReader } from "./index-db.ts";
import type { FoundAttempt } from "./read-attempts.ts";
import type { SharedIndex } from "./shared-index.ts";
import type { Traveller } from "./traveller.ts";

/** A reference check that a test relied on. */
export interface CheckInForce {
  /** SHA-256 of its traveller. */
  readonly traveller: string;
  readonly path: string;
  readonly piece: string;
  readonly by: string | null;
  readonly ended_at: string | null;
  readonly verdict: Traveller["verdict"];
}

/**
 * Finds the travellers of reference checks that attempts name, by the folder's index.
 * @returns by SHA-256; none that the index does not know, or whose file is not as it was recorded
 */
export async function checksInForce(
  folder: string,
  attempts: readonly FoundAttempt[],
  { index }: SharedIndex,
  disk: Disk = REAL_DISK,
): Promise<ReadonlyMap<string, CheckInForce>> {
  const checks = new Map<string, CheckInForce>();
  for (const [sha256, path] of pathsOf(attempts, index)) {
    const bytes = await disk.readFile(join(folder, path)).catch(() => null);
    if (bytes === null || sha256Hex(bytes) !== sha256) continue;
    // What has that SHA-256 is the traveller that was relied on.
    const { serial, who, ended_at, verdict } = JSON.parse(bytes.toString("utf8")) as Traveller;
    checks.set(sha256, {
      traveller: sha256,
      path: join(folder, path),
      piece: serial,
      by: who.inspector,
      ended_at,
      verdict,
    });
  }
  return checks;
}

function pathsOf(
  attempts: readonly FoundAttempt[],
  index: IndexReader | undefined,
): ReadonlyMap<string, string> {
  const paths = new Map<string, string>();
  try {
    for (const { traveller } of index ? attempts : []) {
      const asked = (traveller?.reference_check?.travellers ?? []).filter((sha256) => !paths.has(sha256));
      if (!traveller || asked.length === 0) continue;
      const before = new Map(
        index?.checksBefore(traveller.chain.sequence, asked).map(({ sha256, path }) => [sha256, path]),
      );
      for (const sha256 of asked) {
        const path = before.get(sha256);
        if (path !== undefined) paths.set(sha256, path);
      }
    }
  } catch {
    // The index can't be read any more: the checks stay hashes.
  }
  return paths;
}
