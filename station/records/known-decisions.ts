import { type ChainHead, sha256Hex } from "./chain.ts";
import { unitsOf } from "./decided-table.ts";
import { areAsKnown, asDispositions, decisionsAfter } from "./decisions-after.ts";
import type { Disposition } from "./disposition.ts";
import { recordedDisposition } from "./disposition-shape.ts";
import { followHolds, type Held, nothingHeld } from "./doubts.ts";
import { askedUndisturbed, connectToRead } from "./index-file.ts";
import { notAsRecorded } from "./record-error.ts";

/** Everything that was decided about units, for whoever does not hold the folder's lock. */
export interface KnownDecisions {
  readonly held: Held;
  /** @returns units that any of them names */
  serials(): Iterable<string>;
  /** @returns those naming the unit, in the order of recording */
  of(serial: string): readonly Disposition[];
  /**
   * Holds the files of those that name these units against what was taken from the index.
   * @param serials units that an answer rests on
   * @throws RecordError CORRUPT naming what is not as it was recorded
   */
  requireFiles(serials: Iterable<string>): Promise<void>;
}

/** Units that an answer rests on, as they are met, however many: only those that anything was decided about are kept. */
export class DecidedUnits {
  readonly #decisions: KnownDecisions;
  readonly #met = new Set<string>();

  constructor(decisions: KnownDecisions) {
    this.#decisions = decisions;
  }

  meet(serial: string): void {
    if (this.#decisions.of(serial).length > 0) this.#met.add(serial);
  }

  /** Once all are met. @throws RecordError as `KnownDecisions.requireFiles` */
  requireFiles(): Promise<void> {
    return this.#decisions.requireFiles(this.#met);
  }
}

/**
 * Every disposition of a folder, from its index's table as far as that goes, and from the files after it. The table is believed only
 * where it is a chain by itself, each text with its hash and the hash of the one before, that ends in the file of the same number on
 * disk: so what is taken from it is what was recorded, to the byte, by the same proof that reading all files gives. Where anything
 * does not agree, or there is no such table, all files are read, which tells what is wrong.
 *
 * Not noticed: a file before the table's last that was changed, though not one that has gone. The answer is then by what was
 * recorded. Whoever shows an answer asks `requireFiles` for the units it rests on; `drumtight audit` tells of all others.
 * @throws RecordError CORRUPT, or why the folder can't be read
 */
export async function knownDecisions(folder: string): Promise<KnownDecisions> {
  return (await fromTable(folder)) ?? fromFiles(folder);
}

async function fromTable(folder: string): Promise<KnownDecisions | null> {
  const table = (await askedUndisturbed(folder, async () => tableOf(folder))) ?? [];
  const indexed = chained(table);
  const later = indexed && decisionsAfter(folder, table.at(-1) ?? null);
  const added = later && (await asDispositions(later));
  if (!indexed || !added) return null;
  const held = nothingHeld();
  const bySerial = new Map<string, Disposition[]>();
  for (const disposition of [...indexed, ...added]) {
    followHolds(held, disposition);
    for (const serial of unitsOf(disposition)) {
      const known = bySerial.get(serial);
      if (known) known.push(disposition);
      else bySerial.set(serial, [disposition]);
    }
  }
  return {
    held,
    serials: () => bySerial.keys(),
    of: (serial) => bySerial.get(serial) ?? [],
    async requireFiles(serials) {
      const asked = new Set<ChainHead>();
      for (const serial of serials) {
        for (const { chain } of bySerial.get(serial) ?? []) {
          const row = table[chain.sequence - 1];
          if (row) asked.add(row);
        }
      }
      if (areAsKnown(folder, asked)) return;
      await fromFiles(folder);
      // All of them fit together, and not what was taken from the index a moment ago.
      throw notAsRecorded(`${folder}/dispositions`, "it was changed while it was read");
    },
  };
}

async function fromFiles(folder: string): Promise<KnownDecisions> {
  const [{ DispositionLog }, { WAITING_DISK }] = await Promise.all([
    import("./disposition-log.ts"),
    import("./disk.ts"),
  ]);
  const log = new DispositionLog(folder, WAITING_DISK);
  await log.refreshBesideStation();
  return {
    held: log.held,
    serials: () => log.serials(),
    of: (serial) => log.of(serial),
    requireFiles: async () => undefined,
  };
}

interface Row extends ChainHead {
  readonly text: string;
}

/** @returns null where there is no index that can be read */
function tableOf(folder: string): Row[] | null {
  const database = connectToRead(folder);
  try {
    const rows = database
      ?.prepare("SELECT sequence, sha256, text FROM dispositions ORDER BY sequence")
      .raw()
      .all();
    return (
      (rows as [number, string, string][] | undefined)?.map(([sequence, sha256, text]) => ({
        sequence,
        sha256,
        text,
      })) ?? null
    );
  } catch {
    return null;
  } finally {
    database?.close();
  }
}

/** @returns null where one of them is not what the next carries the hash of, or no disposition */
function chained(rows: readonly Row[]): Disposition[] | null {
  const dispositions: Disposition[] = [];
  let previous: string | null = null;
  for (const [at, { sequence, sha256, text }] of rows.entries()) {
    if (sequence !== at + 1 || typeof text !== "string" || sha256Hex(text) !== sha256) return null;
    const disposition = dispositionIn(text);
    if (disposition?.chain.sequence !== sequence || disposition.chain.previous !== previous) return null;
    dispositions.push(disposition);
    previous = sha256;
  }
  return dispositions;
}

function dispositionIn(text: string): Disposition | null {
  try {
    return recordedDisposition(JSON.parse(text));
  } catch {
    return null;
  }
}
