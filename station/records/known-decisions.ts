import { type ChainHead, sha256Hex } from "./chain.ts";
import { unitsOf } from "./decided-table.ts";
import { areAsKnown, asDispositions, decisionsAfter } from "./decisions-after.ts";
import type { Disposition } from "./disposition.ts";
import { recordedDisposition } from "./disposition-shape.ts";
import { followHolds, type Held, nothingHeld } from "./doubts.ts";
import { askedUndisturbed, connectToRead } from "./index-file.ts";
import type { IndexMoment } from "./index-moment.ts";
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
 * @param moment whose index is asked, where more is asked of the same one
 * @throws RecordError CORRUPT, or why the folder can't be read
 */
export async function knownDecisions(
  folder: string,
  moment?: Pick<IndexMoment, "database">,
): Promise<KnownDecisions> {
  const table = moment
    ? tableOf(moment.database)
    : await askedUndisturbed(folder, async () => ownTable(folder));
  return (await fromTable(folder, table ?? [])) ?? fromFiles(folder);
}

async function fromTable(folder: string, table: readonly Row[]): Promise<KnownDecisions | null> {
  const followed = new Followed();
  if (!isChain(table, followed)) return null;
  const later = decisionsAfter(folder, table.at(-1) ?? null);
  const added = later && (await asDispositions(later));
  if (!added) return null;
  for (const disposition of added) followed.add(disposition);
  const { held, numbers } = followed;
  const disposition = (number: number) =>
    added[number - table.length - 1] ?? (JSON.parse(table[number - 1]?.text ?? "") as Disposition);
  return {
    held,
    serials: () => numbers.keys(),
    of: (serial) => numbers.get(serial)?.map(disposition) ?? [],
    async requireFiles(serials) {
      const asked = new Set<ChainHead>();
      for (const serial of serials) {
        for (const number of numbers.get(serial) ?? []) {
          const row = table[number - 1];
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

/** What dispositions come to, one after the other; of most of them no more is kept than whom they name. */
class Followed {
  readonly held = nothingHeld();
  /** Of those that name a unit, by serial, ascending. */
  readonly numbers = new Map<string, number[]>();

  add(disposition: Disposition): void {
    followHolds(this.held, disposition);
    for (const serial of unitsOf(disposition)) {
      const known = this.numbers.get(serial);
      if (known) known.push(disposition.chain.sequence);
      else this.numbers.set(serial, [disposition.chain.sequence]);
    }
  }
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
function ownTable(folder: string): Row[] | null {
  const database = connectToRead(folder);
  try {
    return tableOf(database);
  } finally {
    database?.close();
  }
}

/** @returns null where it can't be read */
function tableOf(database: IndexMoment["database"]): Row[] | null {
  try {
    const rows = database
      ?.prepare("SELECT sequence, sha256, text FROM dispositions ORDER BY sequence")
      .raw()
      .all() as [number, string, string][] | undefined;
    return rows?.map(([sequence, sha256, text]) => ({ sequence, sha256, text })) ?? null;
  } catch {
    return null;
  }
}

/** @returns false where one of them is not what the next carries the hash of, or no disposition */
function isChain(rows: readonly Row[], followed: Followed): boolean {
  let previous: string | null = null;
  for (const [at, { sequence, sha256, text }] of rows.entries()) {
    if (sequence !== at + 1 || typeof text !== "string" || sha256Hex(text) !== sha256) return false;
    const disposition = dispositionIn(text);
    if (disposition?.chain.sequence !== sequence || disposition.chain.previous !== previous) return false;
    followed.add(disposition);
    previous = sha256;
  }
  return true;
}

function dispositionIn(text: string): Disposition | null {
  try {
    return recordedDisposition(JSON.parse(text));
  } catch {
    return null;
  }
}
