import { canonicalText } from "./chain.ts";
import type { CheckedDatabase } from "./checked-database.ts";
import { connectToRead } from "./index-file.ts";
import { formsIn } from "./index-forms.ts";
import { type TravellerQuery, travellersOf } from "./model-travellers.ts";
import { countRecords } from "./record-name.ts";
import { decodedNumbers, formTextOf, numbersOf, type StoredForm } from "./stored-values.ts";
import type { Traveller } from "./traveller.ts";

/** One recorded attempt with the values it was judged by. */
export interface StoredAttempt {
  readonly sequence: number;
  /** The same object for all attempts that have it in common. */
  readonly form: StoredForm;
  readonly serial: string;
  readonly attempt: number;
  readonly started_at: string;
  /** Names and numbers of tracked parts, JSON. */
  readonly parts: string;
  /** As `numbersOf` orders them. */
  readonly numbers: Float64Array;
  /** Whether another attempt of the unit may follow. */
  readonly goesOn: boolean;
}

export type FoundStored =
  | { readonly kind: "attempt"; readonly attempt: StoredAttempt }
  /** A traveller that is not what was recorded, and perhaps of the model that is asked for. */
  | { readonly kind: "broken"; readonly path: string; readonly problem: string };

/** What a pass over the stored values began with. */
export interface StoredSource {
  /** Records whose values the index gives; the others' travellers are read. */
  readonly indexed: number;
  /** Travellers in the folder. */
  readonly records: number;
}

/** Rows read at once. */
const AT_ONCE = 2000;

/**
 * The stored values of a model's attempts, those of reference pieces and drafts too, in the order in which they were recorded. They
 * come from the folder's index as far as it has them, and from the travellers after that, all of them where there is no index that
 * can be read. No lock is taken and nothing made: a station may be writing meanwhile, and what it adds is not seen.
 * @throws RecordError FOLDER_MISSING, or why the folder can't be read
 */
export async function* storedAttempts(
  folder: string,
  query: TravellerQuery,
  begun: (source: StoredSource) => void = () => undefined,
): AsyncGenerator<FoundStored, void, void> {
  const database = connectToRead(folder);
  try {
    // All that is asked of it is of one moment.
    database?.exec("BEGIN");
    const indexed = database ? completeUpTo(database) : 0;
    const { records, later } = await countRecords(folder, indexed);
    begun({ indexed, records });
    if (!database || indexed === 0) {
      yield* fromFiles(folder, query);
      return;
    }
    // Where the index ends, a unit may go on in the files.
    const tail: FoundStored[] = [];
    if (later > 0) for await (const it of fromFiles(folder, { ...query, after: indexed })) tail.push(it);
    const serials = new Set(tail.flatMap((it) => (it.kind === "attempt" ? [it.attempt.serial] : [])));
    for (const attempt of indexedAttempts(database, query, indexed)) {
      yield {
        kind: "attempt",
        attempt: serials.has(attempt.serial) ? { ...attempt, goesOn: true } : attempt,
      };
    }
    yield* tail;
  } finally {
    database?.close();
  }
}

/** @returns the number up to which the index has every record, 0 for one with holes */
function completeUpTo(database: CheckedDatabase): number {
  const [row] = database
    .prepare("SELECT count(*), max(sequence) FROM stored_values")
    .raw()
    .all() as number[][];
  return row?.[0] === row?.[1] ? (row?.[0] ?? 0) : 0;
}

type IndexRow = [number, number, string, number, string, string, Buffer];

/** One pass over what the index holds of a model, up to a record. */
export function* indexedAttempts(
  database: CheckedDatabase,
  { model, serial, from, to }: TravellerQuery,
  last: number,
): Generator<StoredAttempt, void, void> {
  const formOf = formsIn(database);
  const conditions = [
    ...(serial === undefined ? [] : ["a.serial = ?"]),
    ...(from === undefined ? [] : ["a.started_at >= ?"]),
    ...(to === undefined ? [] : ["a.started_at < ?"]),
  ];
  const asked = [
    model,
    ...(serial === undefined ? [] : [serial]),
    ...(from === undefined ? [] : [beginOf(from, 0)]),
    ...(to === undefined ? [] : [beginOf(to, 1)]),
  ];
  const page = database
    .prepare(
      `SELECT v.sequence, v.form, a.serial, a.attempt, a.started_at, v.parts, v.numbers
       FROM stored_values v CROSS JOIN attempts a ON a.sequence = v.sequence
       WHERE v.sequence > ? AND v.sequence <= ?
         AND v.form IN (SELECT form FROM forms WHERE model = ?)${conditions.map((it) => ` AND ${it}`).join("")}
       ORDER BY v.sequence LIMIT ${AT_ONCE}`,
    )
    .raw();
  const followed = followedAttempts(database, last);
  for (let after = 0; ; ) {
    const rows = page.all(after, last, ...asked) as IndexRow[];
    for (const [sequence, form, unit, attempt, started_at, parts, numbers] of rows) {
      after = sequence;
      yield {
        sequence,
        form: formOf(form),
        serial: unit,
        attempt,
        started_at,
        parts,
        numbers: decodedNumbers(numbers),
        goesOn: ((followed[sequence >> 3] ?? 0) & (1 << (sequence & 7))) !== 0,
      };
    }
    if (rows.length < AT_ONCE) return;
  }
}

/** @returns a bit for each sequence number: whether another attempt of the unit came after it */
function followedAttempts(database: CheckedDatabase, last: number): Uint8Array {
  const followed = new Uint8Array((last >> 3) + 1);
  const rows = database
    .prepare(
      `SELECT a.sequence FROM attempts b CROSS JOIN attempts a ON a.serial = b.serial AND a.attempt < b.attempt
       WHERE b.attempt > 1 AND a.sequence <= ?`,
    )
    .raw()
    .iterate(last) as Iterable<[number]>;
  for (const [sequence] of rows) {
    const at = sequence >> 3;
    followed[at] = (followed[at] ?? 0) | (1 << (sequence & 7));
  }
  return followed;
}

/** @returns the moment at which a day begins by the local calendar, or so many days later, as a UTC text */
function beginOf(day: string, days: number): string {
  const [year = 0, month = 1, date = 1] = day.split("-").map(Number);
  return new Date(year, month - 1, date + days).toISOString();
}

async function* fromFiles(folder: string, query: TravellerQuery): AsyncGenerator<FoundStored, void, void> {
  const stored = new StoredFromTravellers();
  for await (const it of travellersOf(folder, query)) {
    if (it.kind === "broken") yield it;
    else yield { kind: "attempt", attempt: stored.attemptOf(it.traveller, it.goesOn) };
  }
}

/** Takes stored values from travellers that were read, as the index has them. */
export class StoredFromTravellers {
  /** Those met so far, by their text. */
  readonly #forms = new Map<string, StoredForm>();

  attemptOf(traveller: Traveller, goesOn: boolean): StoredAttempt {
    const text = formTextOf(traveller);
    const form = this.#forms.get(text) ?? (JSON.parse(text) as StoredForm);
    this.#forms.set(text, form);
    return {
      sequence: traveller.chain.sequence,
      form,
      serial: traveller.serial,
      attempt: traveller.attempt.number,
      started_at: traveller.started_at,
      parts: canonicalText(traveller.parts),
      numbers: Float64Array.from(numbersOf(traveller)),
      goesOn,
    };
  }
}
