import { join } from "node:path";
import type { EarlyWarning } from "../quality/early-warning/early-warning.ts";
import type { WatchedUnit } from "../quality/early-warning/watched-unit.ts";
import { readRecord } from "../records/chain.ts";
import type { CheckedDatabase } from "../records/checked-database.ts";
import { REAL_DISK } from "../records/disk.ts";
import {
  type FirstTest,
  type FirstTestsRange,
  firstTestsIn,
  type TestsWindow,
  testsWindow,
} from "../records/first-tests.ts";
import { connectToRead } from "../records/index-file.ts";
import { formsIn } from "../records/index-forms.ts";
import type { IndexMoment } from "../records/index-moment.ts";
import { type KnownDecisions, knownDecisions } from "../records/known-decisions.ts";
import { NamedWarnings } from "./named-warnings.ts";
import { Calendar } from "./record-asked.ts";
import { RecordsWatch } from "./records-watch.ts";

export interface EarlyWarningsAsked {
  readonly folder: string;
  /** Warnings given from this moment on, and before the other; null: from the first record, up to the last. */
  readonly from_ms: number | null;
  readonly to_ms: number | null;
  /** Only of this one. */
  readonly model?: string | null | undefined;
  /** Begins of shifts; empty where none is known. */
  readonly shifts: readonly string[];
}

export interface FoundWarnings {
  /** The newest first. */
  readonly warnings: readonly EarlyWarning[];
  readonly notes: readonly string[];
}

/** Of a longer time only so many of the newest units of a model are looked at. */
const MOST_UNITS = 10_000;
/** Of so many warnings of a model the travellers about the first suspect are read, for gauges and inspector. */
const MOST_READ = 8;
/** Units before and after a first suspect whose travellers are read. */
const [READ_BEFORE, READ_AFTER] = [30, 30];
/** A change may lie that far before a first suspect. */
const NEARLY = 13;

/**
 * Early warnings of a records folder in a time, from the values in its index; what is normal is taken from the units before. Nothing is
 * written, no lock is taken, a station may be testing meanwhile.
 * @param moment of which the index is asked, and what had been decided then, where more is asked of the same one
 * @returns no warning and a note that says why, where the folder has no index that can be read
 * @throws RecordError where the folder's dispositions can't be read
 */
export async function earlyWarnings(
  asked: EarlyWarningsAsked,
  moment?: Pick<IndexMoment, "database"> & { readonly decisions: KnownDecisions },
): Promise<FoundWarnings> {
  const { folder } = asked;
  const database = moment ? moment.database : connectToRead(folder);
  if (!database)
    return {
      warnings: [],
      notes: [
        "Early warnings were not looked for: the folder has no index that can be read. Run drumtight index rebuild.",
      ],
    };
  try {
    const decisions = moment?.decisions ?? (await knownDecisions(folder));
    const { untrusted } = decisions.held;
    const within = recordsWithin(database, asked);
    if (within === null) return { warnings: [], notes: [] };
    const { first, last } = within;
    const formOf = formsIn(database);
    const known = database.prepare("SELECT DISTINCT model FROM forms").raw().all() as [string][];
    const warnings: EarlyWarning[] = [];
    const notes: string[] = [];
    for (const [model] of known.sort()) {
      if (asked.model != null && asked.model !== model) continue;
      const ask = (range: FirstTestsRange) => firstTestsIn(database, range, formOf);
      const { tests, isAll } = newestTests(ask, { model, after: first - 1, upTo: last });
      if (tests.length === 0) continue;
      if (!isAll)
        notes.push(`Early warnings of ${model} were looked for among the newest ${tests.length} units only.`);
      const window = testsWindow(ask, model, (tests[0]?.sequence ?? first) - 1);
      await decisions.requireFiles([...window.tests, ...tests].map(({ serial }) => serial));
      const isTrusted = ({ sha256 }: FirstTest) => !untrusted.has(sha256);
      warnings.push(...(await warningsOf(model, window, tests, isTrusted, asked)));
    }
    return { warnings: warnings.sort((a, b) => b.signalled.at.localeCompare(a.signalled.at)), notes };
  } finally {
    if (!moment) database.close();
  }
}

/** @returns numbers of the first and last record that ended in the time; null for none */
function recordsWithin(
  database: CheckedDatabase,
  { from_ms, to_ms }: EarlyWarningsAsked,
): { readonly first: number; readonly last: number } | null {
  const ends = (sql: string, ...keys: string[]) =>
    (database
      .prepare(sql)
      .raw()
      .get(...keys) as [number | null] | [number | null, number | null]) ?? [null];
  const isOpen = from_ms === null && to_ms === null;
  // Of all records the numbers are known without looking at when each ended.
  const [first, last] = isOpen
    ? [1, ends("SELECT max(sequence) FROM attempts")[0]]
    : ends(
        "SELECT min(sequence), max(sequence) FROM attempts WHERE ended >= ? AND ended < ?",
        from_ms === null ? "" : instant(from_ms),
        to_ms === null ? "a" : instant(to_ms),
      );
  return first == null || last == null ? null : { first, last };
}

/** Records gone through at once. */
const STEP = 4096;

/** Step by step from the end: of a million records few are wanted. */
function newestTests(
  ask: (range: FirstTestsRange) => readonly FirstTest[],
  { model, after, upTo }: FirstTestsRange,
): { readonly tests: readonly FirstTest[]; readonly isAll: boolean } {
  const steps: (readonly FirstTest[])[] = [];
  let count = 0;
  let at = upTo;
  while (at > after && count < MOST_UNITS) {
    const from = Math.max(after, at - STEP);
    const tests = ask({ model, after: from, upTo: at });
    count += tests.length;
    steps.push(tests);
    at = from;
  }
  return { tests: steps.reverse().flat(), isAll: at <= after };
}

async function warningsOf(
  model: string,
  window: TestsWindow,
  tests: readonly FirstTest[],
  isTrusted: (test: FirstTest) => boolean,
  { folder, from_ms, to_ms, shifts }: EarlyWarningsAsked,
): Promise<EarlyWarning[]> {
  const named = new NamedWarnings();
  const records = await RecordsWatch.of(model, window, isTrusted);
  await records.add(tests, named.left);
  const isAsked = (at: string) =>
    Date.parse(at) >= (from_ms ?? Number.NEGATIVE_INFINITY) &&
    Date.parse(at) < (to_ms ?? Number.POSITIVE_INFINITY);
  const asked = named.of(records.watch, isAsked);
  if (asked.length === 0) return [];
  const known = [...window.tests, ...tests].filter(isTrusted);
  const place = new Map(known.map(({ serial }, k) => [serial, k]));
  const read = new Map<string, Circumstances>();
  const readAt = async (k: number) => {
    const test = known[k];
    if (test && !read.has(test.serial)) read.set(test.serial, await whoAndWhatWith(join(folder, test.path)));
    return JSON.stringify(read.get(test?.serial ?? ""));
  };
  for (const { first } of asked.slice(-MOST_READ)) {
    const at = place.get(first.serial) ?? 0;
    const [from, to] = [Math.max(0, at - READ_BEFORE), Math.min(known.length, at + READ_AFTER) - 1];
    // Nothing changed then, where it was the same before and since: what changed back would be named by neither.
    const ends = [await readAt(from), await readAt(Math.max(from, at - NEARLY)), await readAt(to)];
    if (ends.every((it) => it === ends[0])) continue;
    for (let k = from; k <= to; k++) await readAt(k);
  }
  const calendar = new Calendar(shifts);
  const contextOf = ({ serial, at }: WatchedUnit) => ({
    ...(shifts.length === 0
      ? { day: calendar.dayOf(Date.parse(at)) }
      : { shift: calendar.datedShiftOf(Date.parse(at)) }),
    ...read.get(serial),
  });
  return named.of(records.watch, isAsked, contextOf);
}

type Circumstances = Readonly<Record<string, string>>;

/** @returns nothing of a traveller that can't be read: this names what is likely, and vouches for nothing */
async function whoAndWhatWith(path: string): Promise<Circumstances> {
  const record = await REAL_DISK.readFile(path).then(readRecord, () => null);
  if (!record?.ok) return {};
  const { who, gauges } = record.content as {
    readonly who?: { readonly inspector?: string | null };
    readonly gauges?: readonly {
      readonly name: string;
      readonly identity: string;
      readonly calibration_due: string | null;
    }[];
  };
  const named = (gauges ?? []).map(({ name, identity, calibration_due }) => [
    `gauge ${name}`,
    `${identity}, calibration due ${calibration_due ?? "on no date"}`,
  ]);
  return { ...(who?.inspector == null ? {} : { inspector: who.inspector }), ...Object.fromEntries(named) };
}

function instant(at_ms: number): string {
  return new Date(at_ms).toISOString();
}
