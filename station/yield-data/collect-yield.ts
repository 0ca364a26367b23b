import { join } from "node:path";
import { UsageError } from "../explain.ts";
import { counts, heldTravellers } from "../records/doubts.ts";
import { askedAtOneMoment, type IndexMoment, SpoiltIndex } from "../records/index-moment.ts";
import { type KnownDecisions, knownDecisions } from "../records/known-decisions.ts";
import { listRecords, safeSerial, safeSerialIn } from "../records/record-name.ts";
import { timeZoneInForce } from "../time-zone.ts";
import { beginOfDay } from "../yield/time-ranges.ts";
import { YieldCount } from "../yield/yield-count.ts";
import { isByParts } from "../yield/yield-fold.ts";
import type { YieldReport } from "../yield/yield-report.ts";
import { awaitedInYield } from "./awaited-in-yield.ts";
import { comparedTravellers } from "./compared-travellers.ts";
import { CountOfTests, requireAgreement } from "./counts-that-agree.ts";
import { LimitFileSpans } from "./limit-file-spans.ts";
import type { BrokenRecord, ReadTest, ReadTests } from "./read-tests.ts";
import { stationDownTime } from "./station-down-time.ts";
import { TestSections } from "./test-sections.ts";
import { type AskedTime, askedTime, UNITS_LISTED_MOST, type YieldQuery } from "./yield-query.ts";
import { type FirstAndLast, type TestsRow, YieldIndex } from "./yield-sql.ts";

type OpenIndex = NonNullable<IndexMoment["database"]>;

/** What is counted of some time. */
interface Counting {
  readonly time: { readonly from_ms: number; readonly to_ms: number };
  readonly count: YieldCount;
  readonly sections: TestSections;
}

interface Counted extends Counting {
  readonly broken: readonly BrokenRecord[];
  readonly travellersCompared: number | null;
  readonly notes: readonly string[];
  /** Number of the newest record that was looked at. */
  readonly newest: number;
  readonly decisions: KnownDecisions;
}

/** A yield, and up to where it was looked. */
export interface YieldAtMoment {
  readonly report: YieldReport;
  /** Number of the newest record of the folder: what was recorded since is no part of the report. */
  readonly newest: number;
  /** As they were then, with the holds that were awaited. */
  readonly decisions: KnownDecisions;
}

/**
 * What some days of a records folder came to, by the folder's index as far as it goes, else by the travellers: they are the truth,
 * and those of these days are held against the index, and so is what was decided about their units. No lock is taken and nothing is made: a station may be testing meanwhile.
 * Travellers that are not as they were recorded are named in the source and are part of no figure.
 * @throws UsageError for days that there are not; RecordError where the folder can't be read, or a disposition is not as recorded:
 * nobody knows then what is held
 */
export function collectYield(query: YieldQuery): Promise<YieldReport> {
  return askedAtOneMoment(query.folder, async (moment) => (await yieldAt(query, moment)).report);
}

/**
 * The same, where more is asked of the same moment.
 * @throws as `collectYield`; as `askedAtOneMoment` takes it for an index that is spoilt inside
 */
export async function yieldAt(query: YieldQuery, moment: IndexMoment): Promise<YieldAtMoment> {
  const counted = await countedBy(moment, query, askedTime(query));
  const { newest, decisions } = counted;
  return { report: await reportOf(query, counted), newest, decisions };
}

async function countedBy(
  { database, isSpoilt }: IndexMoment,
  query: YieldQuery,
  asked: AskedTime,
): Promise<Counted> {
  if (database) {
    const index = new YieldIndex(database);
    if (index.last > 0) return countIndexed(query, asked, index, database);
  }
  const counted = await countFiles(query, asked);
  if (!isSpoilt) return counted;
  return { ...counted, notes: [SPOILT_INDEX, ...counted.notes.filter((note) => note !== NO_INDEX)] };
}

async function countFiles(query: YieldQuery, asked: AskedTime): Promise<Counted> {
  const { testsIn } = await import("./read-tests.ts");
  const files = await listRecords(query.folder);
  const { tests, broken, unread } = await testsIn(query.folder, files, 0);
  const decisions = await withAwaited(
    query.folder,
    null,
    { tests, unread },
    await knownDecisions(query.folder, { database: undefined }),
  );
  const ends = tests.map(({ at }) => at).sort();
  const counting = countingOf(query, asked, ends[0] ?? null, ends.at(-1) ?? null);
  addTests(counting, tests);
  const units = unitsOf(tests);
  const brokenOf = new Set(unread.map(({ path }) => safeSerialIn(path)));
  // One that was decided about may have no test that is as it was recorded.
  for (const serial of new Set([...units.keys(), ...decisions.serials()])) {
    counting.count.addUnit({
      serial,
      tests: units.get(serial) ?? [],
      dispositions: decisions.of(serial),
      lacksRecords: brokenOf.has(safeSerial(serial)),
    });
    requireFewUnits(counting.count);
  }
  const isInTime = ({ at }: ReadTest) => counting.count.fold.segmentAt(Date.parse(at)) !== null;
  await decisions.requireFiles(units.keys());
  const travellersCompared = tests.filter(isInTime).length;
  const notes = tests.length > MANY_TRAVELLERS ? [NO_INDEX] : [];
  return { ...counting, broken, travellersCompared, notes, newest: files.at(-1)?.sequence ?? 0, decisions };
}

const MANY_TRAVELLERS = 5000;
const NO_INDEX =
  "The folder has no index that can be read, so that every traveller was read: drumtight index rebuild makes one.";
const SPOILT_INDEX =
  "The folder's index is damaged, and every traveller was read in its place: drumtight index rebuild makes it anew.";
const NOT_COMPARED =
  "These days have too many travellers to read them all: the figures are the index's. drumtight index check holds it against them.";

async function countIndexed(
  query: YieldQuery,
  asked: AskedTime,
  index: YieldIndex,
  database: OpenIndex,
): Promise<Counted> {
  const { folder } = query;
  const counting = countingOf(query, asked, ...index.ends());
  const { time, count, sections } = counting;
  const { compared, broken, leftOut, files } = await comparedTravellers(folder, index, time);
  const hasMore = files.some(({ sequence }) => sequence > index.last);
  const tail = hasMore ? await (await import("./read-tests.ts")).testsIn(folder, files, index.last) : NOTHING;
  const decisions = await withAwaited(folder, database, tail, await knownDecisions(folder, { database }));
  addTests(counting, tail.tests);
  const had = sections.addIndexed({ database, forms: index.forms, leftOut, times: index.weeks(time) });
  const counted = countAlike(query, counting, index, leftOut);
  requireAgreement(counted, { ...had, tests: compared ?? index.countOfAll(time) });
  const left = new Set(leftOut);
  const later = unitsOf(tail.tests);
  const brokenOf = new Set(tail.unread.map(({ path }) => safeSerialIn(path)));
  const lacking = new Set([
    ...leftOut.flatMap((sequence) => index.unitOf(sequence) ?? []),
    // A serial's safe form is nearly always the serial itself.
    ...brokenOf,
    ...[...later.keys()].filter((serial) => brokenOf.has(safeSerial(serial))),
  ]);
  const oneByOne = new Set([
    ...(compared === null ? decisions.serials() : countedSomehow(decisions, index.firstInspected(time))),
    ...tail.tests.filter(isOfUnit).map(({ serial }) => serial),
    ...lacking,
  ]);
  const exceptional = [...oneByOne];
  const looked: string[] = [];
  const withParts = query.listsUnits === true || query.by.some(isByParts);
  for (let at = 0; at < exceptional.length; at += ASKED_AT_ONCE) {
    const some = exceptional.slice(at, at + ASKED_AT_ONCE);
    for (const { serial, counted: alike, tests: known } of index.oneByOne(some, withParts)) {
      takeBack(count, alike);
      const recorded = known.filter(({ sequence }) => !left.has(sequence));
      const tests = [...recorded, ...(later.get(serial) ?? [])].sort((a, b) => a.attempt - b.attempt);
      const lacksRecords = lacking.has(serial);
      count.addUnit({ serial, tests, dispositions: decisions.of(serial), lacksRecords });
      const isCounted =
        compared !== null && tests.some(({ at }) => count.fold.segmentAt(Date.parse(at)) !== null);
      if (isCounted) looked.push(serial);
    }
  }
  // As their travellers: of too many the index is taken at its word.
  if (compared !== null) await decisions.requireFiles(looked);
  if (query.listsUnits) {
    for (const unit of index.eachUnit(time)) {
      if (!oneByOne.has(unit.serial)) count.listPlain(unit);
      requireFewUnits(count);
    }
  }
  return {
    ...counting,
    broken: [...broken, ...tail.broken],
    travellersCompared: compared === null ? null : compared + tail.tests.length,
    notes: compared === null ? [NOT_COMPARED] : [],
    newest: Math.max(index.last, files.at(-1)?.sequence ?? 0),
    decisions,
  };
}

/** @throws UsageError where the list of units grows too long */
function requireFewUnits({ listed }: YieldCount): void {
  if (listed <= UNITS_LISTED_MOST) return;
  throw new UsageError(
    `These days have more than ${UNITS_LISTED_MOST.toLocaleString("en-GB")} units, too many for one list: ask for fewer days, or for one model by --model.`,
  );
}

/** Units looked at one by one that the index is asked of together. */
const ASKED_AT_ONCE = 50;
const NOTHING: ReadTests = { tests: [], broken: [], unread: [] };

/** All units of the time as if nothing had been decided about any, and all tests but these. */
function countAlike(
  { by, model, station }: YieldQuery,
  { time, count, sections }: Counting,
  index: YieldIndex,
  leftOut: readonly number[],
): CountOfTests {
  const withParts = by.some(isByParts);
  const { segments } = count.fold;
  const spans = new LimitFileSpans();
  const counted = new CountOfTests();
  let failed = 0;
  const addTests = (...[segment, number, tests, parts, among]: TestsRow) => {
    const form = index.form(number);
    count.addTests({ form, segment, parts, tests });
    const isAsked = form.model === (model ?? form.model) && form.station === (station ?? form.station);
    if (isAsked && counts(form)) spans.add(number, form, tests, among);
    counted.add(form, tests, isAsked);
  };
  const isWhole = leftOut.length === 0;
  for (const [segment, first, last, units, parts, among] of index.units(segments, withParts)) {
    count.addPlain(index.form(first), index.form(last), units, segment, parts);
    if (index.form(first).verdict === "fail") failed += units;
    if (isWhole) addTests(segment, first, units, parts, among);
  }
  const tests = isWhole ? index.otherTests(segments, withParts) : index.tests(segments, withParts, leftOut);
  for (const row of tests) addTests(...row);
  for (const { form, tests, first, last } of spans.all()) {
    const [first_at] = index.endsOf(first, leftOut);
    const [, last_at] = index.endsOf(last, leftOut);
    const alike = { form, tests, first_at, last_at };
    count.addEnds(alike);
    sections.addAlike(alike);
  }
  for (const [form, suspect, units] of index.suspects(time)) {
    count.addSuspect(form, suspect, units);
    failed -= units;
  }
  if (failed !== 0)
    throw new SpoiltIndex(`The index has ${failed} more failed units than first tests that failed.`);
  return counted;
}

/** What `countAlike` has counted of a unit of which more is known. */
function takeBack(count: YieldCount, unit: FirstAndLast | null): void {
  if (!unit) return;
  const segment = count.fold.segmentAt(Date.parse(unit.first_ended));
  if (segment === null) return;
  count.addPlain(unit.first, unit.last, -1, segment, unit.parts);
  if (unit.first.verdict === "fail") count.addSuspect(unit.first, unit.suspect, -1);
}

function countingOf(
  query: YieldQuery,
  asked: AskedTime,
  first: string | null,
  last: string | null,
): Counting {
  const { by, shifts, listsUnits = false } = query;
  const [model, station] = [query.model ?? null, query.station ?? null];
  const from_ms = asked.from_ms ?? (first === null ? 0 : Date.parse(first));
  const to_ms = Math.max(from_ms, asked.to_ms ?? (last === null ? 0 : Date.parse(last) + 1));
  const [from, until] = [new Date(from_ms).toISOString(), new Date(to_ms).toISOString()];
  return {
    time: { from_ms, to_ms },
    count: new YieldCount({ by, shifts, model, station, from_ms, to_ms, listsUnits }),
    sections: new TestSections({ from, until, model, station }),
  };
}

function addTests({ count, sections }: Counting, tests: readonly ReadTest[]): void {
  for (const test of tests) {
    const { form, parts, at } = test;
    sections.add(test);
    const segment = count.fold.segmentAt(Date.parse(at));
    if (segment === null) continue;
    count.addTests({ form, parts, segment, tests: 1 });
    count.addEnds({ form, first_at: at, last_at: at });
  }
}

function isOfUnit({ form }: Pick<ReadTest, "form">): boolean {
  return counts(form);
}

/** @returns each unit's tests that count, by attempt */
function unitsOf(tests: readonly ReadTest[]): Map<string, ReadTest[]> {
  const units = new Map<string, ReadTest[]>();
  for (const test of tests.filter(isOfUnit)) {
    const known = units.get(test.serial);
    if (known) known.push(test);
    else units.set(test.serial, [test]);
  }
  for (const unit of units.values()) unit.sort((a, b) => a.attempt - b.attempt);
  return units;
}

/**
 * @param inspected units whose first valid test ended in the time that is counted
 * @returns those of the units decided about that are in any figure of that time: one that is held is told of in every time, and
 * of one whose test is in doubt a later one may be the first
 */
function* countedSomehow({ held, of }: KnownDecisions, inspected: Iterable<string>): Generator<string> {
  for (const { serial } of [...held.untrusted.values(), ...held.byHand.values()]) yield serial;
  for (const serial of inspected) if (of(serial).length > 0) yield serial;
}

/** And the holds that the station has not recorded yet. @param later what the index does not have */
async function withAwaited(
  folder: string,
  database: OpenIndex | null,
  later: Pick<ReadTests, "tests" | "unread">,
  decisions: KnownDecisions,
): Promise<KnownDecisions> {
  const of = (serial: string) => decisions.of(serial);
  const awaited = await awaitedInYield(folder, database, later, of);
  if (awaited.length === 0) return decisions;
  const { held } = decisions;
  const { untrusted } = heldTravellers(awaited);
  const naming = (serial: string) =>
    awaited.filter(({ units }) => units.some((unit) => unit.serial === serial));
  const units = awaited.flatMap((hold) => hold.units.map(({ serial }) => serial));
  return {
    held: { ...held, untrusted: new Map([...held.untrusted, ...untrusted]) },
    serials: () => new Set([...decisions.serials(), ...units]),
    of: (serial) => [...of(serial), ...naming(serial)],
    requireFiles: (serials) => decisions.requireFiles(serials),
  };
}

async function reportOf(query: YieldQuery, counted: Counted): Promise<YieldReport> {
  const { folder, from, to, by, shifts, model = null, station = null, now_ms = Date.now() } = query;
  const { time, count, sections, broken, travellersCompared, notes } = counted;
  const span = { from_ms: time.from_ms, until_ms: to === null ? Math.max(now_ms, time.to_ms) : time.to_ms };
  const down = await stationDownTime(folder, span, now_ms);
  const isNarrowed = model !== null || station !== null;
  const ofAll = isNarrowed && down.downTime.length > 0 ? [DOWN_FOR_ALL] : [];
  return {
    asked: { from, to, timeZone: timeZoneInForce(), shifts, by, model, station },
    source: {
      folder,
      made_at: new Date(now_ms).toISOString(),
      ...count.source(),
      travellersCompared,
      broken: [
        ...broken,
        ...(down.problem === null ? [] : [{ path: join(folder, "events"), problem: down.problem }]),
      ],
    },
    ...count.figures(),
    ...sections.figures(),
    downTime: down.downTime,
    down_s: down.problem === null ? down.down_s : null,
    notes: [...emptyNotes(query, count, now_ms), ...notes, ...count.notes(), ...ofAll, ...down.notes],
  };
}

const DOWN_FOR_ALL =
  "Down time is of all that this folder's station did, not of the one model or station that was asked for.";

/** What a reader is told where there is nothing to count. */
function emptyNotes(query: YieldQuery, count: YieldCount, now_ms: number): string[] {
  if (count.fold.total().tests > 0) return [];
  const { from, to, model, station } = query;
  const days = from !== null && from === to ? [`on ${from}`] : [from && `from ${from}`, to && `to ${to}`];
  const which = [model && `of ${model}`, station && `at ${station}`];
  const words = ["No unit", ...which, "was tested", ...days].filter((it) => it).join(" ");
  return [`${words}${from !== null && beginOfDay(from) > now_ms ? ", which is still to come" : ""}.`];
}
