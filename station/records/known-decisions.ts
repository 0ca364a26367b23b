import { type ChainHead, sha256Hex } from "./chain.ts";
import { unitsOf } from "./decided-table.ts";
import { areAsKnown, asDispositions, decisionsAfter } from "./decisions-after.ts";
import type { Disposition } from "./disposition.ts";
import { recordedDisposition } from "./disposition-shape.ts";
import { followHolds, type Held, nothingHeld } from "./doubts.ts";
import { askedUndisturbed, connectToRead } from "./index-file.ts";
import type { IndexMoment } from "./index-moment.ts";
import { PackedTexts } from "./packed-texts.ts";
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
    ? momentsTable(moment.database)
    : await askedUndisturbed(folder, async () => ownTable(folder));
  return (await fromTable(folder, table)) ?? fromFiles(folder);
}

/** Where texts of the table's dispositions are found again, by number; they are given to it in their order. */
interface Texts {
  add(text: string): void;
  at(sequence: number): string;
}

async function fromTable(folder: string, followed: Followed | null): Promise<KnownDecisions | null> {
  if (!followed) return null;
  const known = followed.end;
  const later = decisionsAfter(folder, known);
  const added = later && (await asDispositions(later));
  if (!added) return null;
  for (const [at, disposition] of added.entries()) followed.addLater(disposition, later[at]?.sha256 ?? "");
  return {
    held: followed.held,
    serials: () => followed.serials(),
    of: (serial) => followed.of(serial),
    async requireFiles(serials) {
      const asked = new Set<number>();
      for (const serial of serials) {
        for (const number of followed.numbersOf(serial)) {
          if (number <= (known?.sequence ?? 0)) asked.add(number);
        }
      }
      if (
        areAsKnown(
          folder,
          [...asked].map((sequence) => followed.headOf(sequence)),
        )
      )
        return;
      await fromFiles(folder);
      // All of them fit together, and not what was taken from the index a moment ago.
      throw notAsRecorded(`${folder}/dispositions`, "it was changed while it was read");
    },
  };
}

/** Dispositions one after the other, and what they come to; of those in the table no more is kept at hand than whom they name. */
class Followed {
  readonly held = nothingHeld();
  readonly #texts: Texts;
  #inTable = 0;
  readonly #later: Disposition[] = [];
  /** Numbers of those that name a unit, by serial, ascending; one alone where no more do, as of most units. */
  readonly #ofUnit = new Map<string, number | number[]>();
  #end: string | null = null;

  constructor(texts: Texts) {
    this.#texts = texts;
  }

  /** The table's next. @param text its JSON, whose SHA-256 it is */
  add(disposition: Disposition, text: string, sha256: string): void {
    this.#texts.add(text);
    this.#inTable++;
    this.#follow(disposition, sha256);
  }

  /** The next that the table does not have; after all that it has. */
  addLater(disposition: Disposition, sha256: string): void {
    this.#later.push(disposition);
    this.#follow(disposition, sha256);
  }

  #follow(disposition: Disposition, sha256: string): void {
    followHolds(this.held, disposition);
    this.#end = sha256;
    const { sequence } = disposition.chain;
    for (const serial of unitsOf(disposition)) {
      const known = this.#ofUnit.get(serial);
      if (Array.isArray(known)) known.push(sequence);
      else this.#ofUnit.set(serial, known === undefined ? sequence : [known, sequence]);
    }
  }

  /** The last one's place; null for none. */
  get end(): ChainHead | null {
    return this.#end === null ? null : { sequence: this.#count, sha256: this.#end };
  }

  get #count(): number {
    return this.#inTable + this.#later.length;
  }

  /** @param sequence of one that was added */
  headOf(sequence: number): ChainHead {
    const isLast = sequence === this.#count;
    return { sequence, sha256: (isLast ? this.#end : this.#numbered(sequence + 1).chain.previous) ?? "" };
  }

  serials(): Iterable<string> {
    return this.#ofUnit.keys();
  }

  numbersOf(serial: string): readonly number[] {
    const known = this.#ofUnit.get(serial) ?? [];
    return Array.isArray(known) ? known : [known];
  }

  of(serial: string): readonly Disposition[] {
    return this.numbersOf(serial).map((number) => this.#numbered(number));
  }

  #numbered(sequence: number): Disposition {
    const later = this.#later[sequence - this.#inTable - 1];
    return later ?? (JSON.parse(this.#texts.at(sequence)) as Disposition);
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

/** @returns as `followedTable`, for as long as the moment's index is open */
function momentsTable(database: IndexMoment["database"]): Followed | null {
  try {
    return followedTable(database, database ? askedTexts(database) : packedTexts());
  } catch {
    // There is no such table.
    return new Followed(packedTexts());
  }
}

/** @returns as `followedTable`, for longer than the index is open */
function ownTable(folder: string): Followed | null {
  const database = connectToRead(folder);
  try {
    return followedTable(database, packedTexts());
  } finally {
    database?.close();
  }
}

/**
 * @returns nothing yet where there is no table that can be read; null where one of its dispositions is not what the next carries the
 * hash of, or none
 */
function followedTable(database: IndexMoment["database"], texts: Texts): Followed | null {
  const followed = new Followed(texts);
  try {
    for (const [sequence, sha256, text] of tableRows(database)) {
      if (typeof text !== "string" || sha256Hex(text) !== sha256) return null;
      const disposition = dispositionIn(text);
      const { end } = followed;
      if (!disposition || sequence !== (end?.sequence ?? 0) + 1) return null;
      const { chain } = disposition;
      if (chain.sequence !== sequence || chain.previous !== (end?.sha256 ?? null)) return null;
      followed.add(disposition, text, sha256);
    }
    return followed;
  } catch {
    return new Followed(packedTexts());
  }
}

function packedTexts(): Texts {
  const packed = new PackedTexts();
  return { add: (text) => packed.add(text), at: (sequence) => packed.at(sequence - 1) };
}

/** Those of one moment's index are asked for once more, and kept nowhere. */
function askedTexts(database: NonNullable<IndexMoment["database"]>): Texts {
  const asked = database.prepare("SELECT text FROM dispositions WHERE sequence = ?").raw();
  return {
    add() {},
    at: (sequence) => String((asked.get(sequence) as unknown as readonly unknown[] | undefined)?.[0]),
  };
}

/** @throws SqliteError where it can't be read */
function tableRows(database: IndexMoment["database"]): Iterable<readonly unknown[]> {
  const rows = database
    ?.prepare("SELECT sequence, sha256, text FROM dispositions ORDER BY sequence")
    .raw()
    .iterate();
  return (rows ?? []) as Iterable<readonly unknown[]>;
}

function dispositionIn(text: string): Disposition | null {
  try {
    return recordedDisposition(JSON.parse(text));
  } catch {
    return null;
  }
}
