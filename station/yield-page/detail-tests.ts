import type { CheckedDatabase } from "../records/checked-database.ts";
import { REAL_DISK } from "../records/disk.ts";
import { counts } from "../records/doubts.ts";
import type { AttemptSummary } from "../records/index-db.ts";
import { formsIn } from "../records/index-forms.ts";
import { SpoiltIndex } from "../records/index-moment.ts";
import { indexedAttempt } from "../records/indexed-attempt.ts";
import { listRecords, travellerPath } from "../records/record-name.ts";
import { decodedNumbers, type StoredForm } from "../records/stored-values.ts";

/** A unit's valid test that counts, with what it was judged by. */
export interface DetailTest {
  readonly sequence: number;
  readonly sha256: string;
  /** Relative to the records folder. */
  readonly path: string;
  readonly serial: string;
  readonly attempt: number;
  readonly kind: AttemptSummary["kind"];
  readonly verdict: "pass" | "fail";
  /** Its end, its start where nobody saw the end; ISO 8601 UTC. */
  readonly at: string;
  readonly causes: readonly string[];
  readonly suspect: string | null;
  readonly form: StoredForm;
  /** As `numbersOf` orders them. */
  readonly numbers: Float64Array;
  /** Whether it is the unit's first valid test, as far as is recorded. */
  readonly isFirst: boolean;
}

export interface DetailSource {
  readonly tests: readonly DetailTest[];
  /** Tests that the index has not got, of the same time: every kind, void ones too. */
  readonly notIndexed: readonly AttemptSummary[];
}

/** Which tests. */
export interface DetailAsked {
  readonly folder: string;
  /** First moment; null: from the first record. */
  readonly from_ms: number | null;
  /** The moment after the last; null: up to the newest record. */
  readonly to_ms: number | null;
  /** Records with greater numbers are passed over: they came after the moment that is told of. */
  readonly newest: number;
}

/**
 * The valid tests of units that ended in a time, in the order of recording: from the index as far as it has them, else from the
 * travellers of those days. Travellers that are not as recorded are passed over: the yield report names them.
 * @param database the folder's index; undefined where it is not to be asked
 * @throws RecordError where the folder can't be read; SpoiltIndex for a test whose unit or values the index has not got
 */
export async function detailTests(
  { folder, from_ms, to_ms, newest }: DetailAsked,
  database: CheckedDatabase | undefined,
): Promise<DetailSource> {
  const from = from_ms === null ? "" : new Date(from_ms).toISOString();
  const until = to_ms === null ? "~" : new Date(to_ms).toISOString();
  const days = { first: from.slice(0, DAY_LETTERS), last: until.slice(0, DAY_LETTERS) };
  const indexed = database ? indexedTests(database, from, until) : [];
  const known = database ? sequencesOf(database, days) : new Set<number>();
  const listed = await listRecords(folder, REAL_DISK, (day) => day >= days.first && day <= days.last);
  const files = listed.filter(({ sequence }) => sequence <= newest);
  const lacking = files.findIndex(({ sequence }) => !known.has(sequence));
  if (lacking === -1) return { tests: indexed, notIndexed: [] };
  // Rarely needed, and the schema of travellers takes a while to load.
  const { chainedTravellers } = await import("../yield-data/chained-travellers.ts");
  const found: (DetailTest & { readonly summary: AttemptSummary })[] = [];
  const notIndexed: AttemptSummary[] = [];
  for await (const it of chainedTravellers(folder, files, lacking)) {
    if (it.kind === "broken" || known.has(it.traveller.chain.sequence)) continue;
    const { traveller, sha256 } = it;
    const path = travellerPath({
      sequence: traveller.chain.sequence,
      serial: traveller.serial,
      attempt: traveller.attempt.number,
      started_at: traveller.started_at,
      ended_at: traveller.ended_at,
    });
    const { stored, ...summary } = indexedAttempt(traveller, sha256, path);
    notIndexed.push(summary);
    const at = summary.ended_at ?? summary.started_at;
    if (summary.verdict === "void" || !counts(summary) || at < from || at >= until) continue;
    const isFirst =
      !found.some(({ serial }) => serial === summary.serial) && !isKnown(database, summary.serial);
    found.push({
      ...summary,
      verdict: summary.verdict,
      at,
      form: JSON.parse(stored.formText) as StoredForm,
      numbers: decodedNumbers(stored.numbers),
      isFirst: isFirst && (database !== undefined || summary.kind === "first"),
      summary,
    });
  }
  const tests = [...indexed, ...found].sort((a, b) => a.sequence - b.sequence);
  return { tests, notIndexed };
}

const DAY_LETTERS = "2026-01-05".length;

type Row = [
  sequence: number,
  sha256: string,
  path: string,
  serial: string,
  attempt: number,
  kind: AttemptSummary["kind"],
  verdict: "pass" | "fail",
  at: string,
  causes: string,
  suspect: string | null,
  form: number,
  numbers: Buffer | null,
  first: number | null,
];

function indexedTests(database: CheckedDatabase, from: string, until: string): DetailTest[] {
  const formOf = formsIn(database);
  // In this order, or SQLite goes through all units to find those of a day.
  const rows = database
    .prepare(
      `SELECT a.sequence, a.sha256, a.path, a.serial, a.attempt, a.attempt_kind, a.verdict, a.ended, a.causes, a.suspect,
         a.form, v.numbers, u.first_sequence
       FROM attempts a LEFT JOIN stored_values v ON v.sequence = a.sequence LEFT JOIN units u ON u.serial = a.serial
       WHERE a.ended >= ? AND a.ended < ? AND a.record_kind = 'unit' AND a.draft = 0 AND a.verdict <> 'void'
       ORDER BY a.sequence`,
    )
    .raw()
    .all(from, until) as Row[];
  return rows.map(
    ([sequence, sha256, path, serial, attempt, kind, verdict, at, causes, suspect, form, numbers, first]) => {
      if (numbers === null || first === null)
        throw new SpoiltIndex(`The index lacks the values or the unit of number ${sequence}.`);
      return {
        ...{ sequence, sha256, path, serial, attempt, kind, verdict, at, suspect },
        causes: causes === "" ? [] : causes.split("\n"),
        form: formOf(form),
        numbers: decodedNumbers(numbers),
        isFirst: sequence === first,
      };
    },
  );
}

/** @returns numbers of the records that the index has of some UTC days */
function sequencesOf(
  database: CheckedDatabase,
  { first, last }: { readonly first: string; readonly last: string },
): ReadonlySet<number> {
  const rows = database
    .prepare("SELECT sequence FROM attempts WHERE ended >= ? AND ended < ?")
    .raw()
    // "T" comes before "U": everything of the last day.
    .all(first, `${last}U`) as [number][];
  return new Set(rows.map(([sequence]) => sequence));
}

function isKnown(database: CheckedDatabase | undefined, serial: string): boolean {
  if (!database) return false;
  const row = database.prepare("SELECT first_sequence FROM units WHERE serial = ?").raw().get(serial);
  return row !== undefined && (row as [number | null])[0] !== null;
}
