import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { type ChainHead, linkProblem, readRecord, sha256Hex } from "./chain.ts";
import type { Disposition } from "./disposition.ts";
import { headInIndex } from "./index-db.ts";
import { DISPOSITIONS, logFile } from "./numbered-log.ts";
import { errnoOf, RecordError } from "./record-error.ts";

interface ReadDispositions {
  readonly dispositions: readonly Disposition[];
  /** A sentence where the dispositions are not as they were recorded; there are none then. */
  readonly problem: string | null;
}

/**
 * What was decided about a unit, for a reader that wants to show as much as can be shown.
 * @throws RecordError why they can't be read
 */
export async function readDispositions(folder: string, serial: string): Promise<ReadDispositions> {
  const dispositions = await namingAlone(folder, serial);
  if (dispositions !== null) return { dispositions, problem: null };
  const { DispositionLog } = await import("./disposition-log.ts");
  const log = new DispositionLog(folder);
  try {
    await log.refreshBesideStation();
    return { dispositions: log.of(serial), problem: null };
  } catch (error) {
    if (!(error instanceof RecordError && error.code === "CORRUPT")) throw error;
    return { dispositions: [], problem: error.message };
  }
}

/**
 * Follows the whole chain, and takes only those dispositions by their schema that name the unit: its library is the greater part of
 * the time for a unit about which nothing was decided, as is the case with nearly all. Of the others only the hash of the one before
 * is looked for: what the next one carries the hash of is what was recorded, whatever it says. The last one is read whole.
 * @returns null where anything is not in order, which the log itself tells better
 */
async function namingAlone(folder: string, serial: string): Promise<Disposition[] | null> {
  const known = headInIndex(folder, DISPOSITIONS);
  const mention = Buffer.from(`"serial":${JSON.stringify(serial)}`);
  const found: Disposition[] = [];
  let head: ChainHead | null = null;
  let isKnownSeen = known === null;
  try {
    const names = namesIn(join(folder, DISPOSITIONS));
    for (const [at, name] of names.entries()) {
      const sequence = at + 1;
      if (`${DISPOSITIONS}/${name}` !== logFile(DISPOSITIONS, sequence)) return null;
      const bytes = readFileSync(join(folder, DISPOSITIONS, name));
      const isNaming = bytes.includes(mention);
      if (isNaming || sequence === names.length) {
        const record = readRecord(bytes);
        if (!record.ok || linkProblem(record.chain, head) !== null) return null;
        if (isNaming) {
          const { Disposition } = await import("./disposition.ts");
          const disposition = Disposition.parse(record.content);
          if (disposition.units.some((unit) => unit.serial === serial)) found.push(disposition);
        }
      } else if (!bytes.includes(linkText(sequence, head))) return null;
      head = { sequence, sha256: sha256Hex(bytes) };
      isKnownSeen ||= head.sequence === known?.sequence && head.sha256 === known.sha256;
    }
  } catch {
    return null;
  }
  return isKnownSeen ? found : null;
}

/** @returns what the bytes of a record that follows another have in them: its members in canonical order */
function linkText(sequence: number, head: ChainHead | null): string {
  return `"chain":${JSON.stringify({ previous: head?.sha256 ?? null, sequence })}`;
}

/** In order of their numbers; none where nothing was ever decided. */
function namesIn(folder: string): string[] {
  try {
    return readdirSync(folder)
      .filter((name) => name.endsWith(".json") && !name.startsWith("."))
      .sort((a, b) => Number.parseInt(a, 10) - Number.parseInt(b, 10));
  } catch (error) {
    if (errnoOf(error) === "ENOENT") return [];
    throw error;
  }
}
