import { join } from "node:path";
import { type ChainHead, readRecord } from "./chain.ts";
import { asDispositions, decisionsAfter } from "./decisions-after.ts";
import { readWholeNow } from "./disk.ts";
import type { Disposition } from "./disposition.ts";
import { recordedDisposition } from "./disposition-shape.ts";
import type { IndexReader } from "./index-db.ts";
import { askedUndisturbed } from "./index-file.ts";
import { DISPOSITIONS, logFile } from "./numbered-log.ts";
import { RecordError } from "./record-error.ts";
import { askedOf, type SharedIndex } from "./shared-index.ts";

interface ReadDispositions {
  readonly dispositions: readonly Disposition[];
  /** A sentence where the dispositions are not as they were recorded; there are none then. */
  readonly problem: string | null;
}

/**
 * What was decided about a unit, for a reader that wants to show as much as can be shown. Those of the unit are read from their
 * files, and each is held against the index and against the file after it, which carries its hash; so is the last one that the index
 * knows. That none has gone or was planted shows in the files' names; what commands recorded since the station last looked is read
 * and followed link by link. Where anything does not agree, every file is read, which tells what is wrong.
 *
 * Not noticed: a changed file about another unit that is neither next to one of this unit's nor the last. It can't hide a decision
 * about this unit, which the index knows by its number; `drumtight audit` tells of it.
 * @throws RecordError why they can't be read
 */
export async function readDispositions(
  folder: string,
  serial: string,
  shared?: SharedIndex,
): Promise<ReadDispositions> {
  const dispositions = await asIndexed(folder, serial, shared);
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

/** @returns null where anything is not in order, which the log itself tells better */
async function asIndexed(
  folder: string,
  serial: string,
  shared: SharedIndex | undefined,
): Promise<Disposition[] | null> {
  const asked = await askedUndisturbed(folder, () =>
    askedOf(folder, shared, (index) => indexedOf(index, serial)),
  );
  if (asked === null) return null;
  const { end, naming } = asked;
  const later = decisionsAfter(folder, end);
  if (later === null) return null;
  const indexed: Disposition[] = [];
  for (const row of naming) {
    const disposition = asRecorded(folder, row);
    if (!disposition?.units.some((unit) => unit.serial === serial)) return null;
    indexed.push(disposition);
  }
  // Of what is about others it is enough that the next one carries its hash.
  const mention = Buffer.from(`"serial":${JSON.stringify(serial)}`);
  const added = await asDispositions(later.filter(({ bytes }) => bytes.includes(mention)));
  return added && [...indexed, ...added.filter(({ units }) => units.some((unit) => unit.serial === serial))];
}

interface Indexed {
  readonly end: ChainHead | null;
  readonly naming: ReturnType<IndexReader["decided"]["naming"]>;
}

/** @returns nothing where there is no index: then every file comes after what it knows; null where it is spoilt inside */
function indexedOf(index: IndexReader | undefined, serial: string): Indexed | null {
  try {
    // What the station adds from here on comes after the end, and is read from its file.
    const end = index?.decided.end() ?? null;
    const naming = index?.decided.naming(serial) ?? [];
    return { end, naming: naming.filter(({ sequence }) => sequence <= (end?.sequence ?? 0)) };
  } catch {
    return null;
  }
}

/** @returns null where its file, or the one after it that the index knows, is not what the index says, or is no disposition */
function asRecorded(
  folder: string,
  { sequence, sha256, next }: Indexed["naming"][number],
): Disposition | null {
  const record = recordIn(folder, sequence);
  if (record?.sha256 !== sha256 || record.chain.sequence !== sequence) return null;
  if (next !== null) {
    const following = recordIn(folder, sequence + 1);
    if (following?.sha256 !== next || following.chain.previous !== sha256) return null;
  }
  return recordedDisposition(record.content);
}

function recordIn(folder: string, sequence: number) {
  try {
    const record = readRecord(readWholeNow(join(folder, logFile(DISPOSITIONS, sequence))));
    return record.ok ? record : null;
  } catch {
    return null;
  }
}
