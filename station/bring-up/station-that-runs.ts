import { readFileSync } from "node:fs";
import { hostname } from "node:os";
import { join } from "node:path";

/**
 * The station that works in a records folder now, as "Station "Line 2" (process 4711)"; null where none does, as far as
 * can be seen. Only the note it leaves there is read: taking its lock to find out could keep it from starting.
 */
export function stationThatRuns(recordsFolder: string): string | null {
  try {
    const note: unknown = JSON.parse(readFileSync(join(recordsFolder, ".station-lock.json"), "utf8"));
    if (typeof note !== "object" || note === null) return null;
    const { station, pid, host } = note as Record<string, unknown>;
    if (typeof pid !== "number" || host !== hostname() || !isAlive(pid)) return null;
    return `Station ${JSON.stringify(station)} (process ${pid})`;
  } catch {
    return null;
  }
}

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    // Somebody else's process may not be signalled, and lives.
    return error instanceof Error && "code" in error && error.code === "EPERM";
  }
}
