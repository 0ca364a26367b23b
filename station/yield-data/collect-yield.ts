import { access } from "node:fs/promises";
import { join } from "node:path";
import type { Disposition } from "../records/disposition.ts";
import { counts } from "../records/doubts.ts";
import { timeZoneInForce } from "../time-zone.ts";
import { YieldCount } from "../yield/yield-count.ts";
import type { YieldReport } from "../yield/yield-report.ts";
import { type BrokenRecord, type ReadTest, testsInFolder } from "./read-tests.ts";
import { type AskedTime, askedTime, type YieldQuery } from "./yield-query.ts";

/** What was counted, and what of the records it rests on. */
interface Counted {
  readonly count: YieldCount;
  readonly broken: readonly BrokenRecord[];
  readonly travellersCompared: number | null;
  readonly notes: readonly string[];
}

/**
 * What some days of a records folder came to. No lock is taken and nothing is made: a station may be testing meanwhile.
 * Travellers that are not as they were recorded are named in the source and are part of no figure.
 * @throws UsageError for days that there are not; RecordError where the folder can't be read, or a disposition is not as recorded:
 * nobody knows then what is held
 */
export async function collectYield(query: YieldQuery): Promise<YieldReport> {
  const time = askedTime(query);
  return reportOf(query, await countFiles(query, time));
}

async function countFiles(query: YieldQuery, time: AskedTime): Promise<Counted> {
  const { tests, broken } = await testsInFolder(query.folder);
  const dispositionsOf = await readDispositions(query.folder);
  const ends_ms = tests.map(({ at }) => Date.parse(at)).sort((a, b) => a - b);
  const count = countOf(query, {
    from_ms: time.from_ms ?? ends_ms[0] ?? 0,
    to_ms: time.to_ms ?? (ends_ms.at(-1) ?? -1) + 1,
  });
  addTests(count, tests);
  for (const [serial, unit] of unitsOf(tests)) count.addUnit(serial, unit, dispositionsOf(serial));
  return { count, broken, travellersCompared: tests.length, notes: [] };
}

function countOf(query: YieldQuery, time: { readonly from_ms: number; readonly to_ms: number }): YieldCount {
  const { by, shifts, model = null, station = null } = query;
  return new YieldCount({ by, shifts, model, station, ...time });
}

function addTests(count: YieldCount, tests: readonly ReadTest[]): void {
  for (const { form, parts, at } of tests) {
    const segment = count.fold.segmentAt(Date.parse(at));
    if (segment === null) continue;
    count.addTests({ form, parts, segment, tests: 1, first_at: at, last_at: at });
  }
}

/** @returns each unit's tests that count, by attempt */
function unitsOf(tests: readonly ReadTest[]): Map<string, ReadTest[]> {
  const units = new Map<string, ReadTest[]>();
  for (const test of tests) {
    if (!counts(test.form)) continue;
    const known = units.get(test.serial);
    if (known) known.push(test);
    else units.set(test.serial, [test]);
  }
  for (const unit of units.values()) unit.sort((a, b) => a.attempt - b.attempt);
  return units;
}

/** Most folders have none, and what reads them takes as long to load as a day's yield to count. */
async function readDispositions(folder: string): Promise<(serial: string) => readonly Disposition[]> {
  try {
    await access(join(folder, "dispositions"));
  } catch {
    return () => [];
  }
  const { DispositionLog } = await import("../records/disposition-log.ts");
  const log = new DispositionLog(folder);
  await log.refreshBesideStation();
  return (serial) => log.of(serial);
}

function reportOf(query: YieldQuery, { count, broken, travellersCompared, notes }: Counted): YieldReport {
  const { folder, from, to, by, shifts, model = null, station = null, now_ms = Date.now() } = query;
  return {
    asked: { from, to, timeZone: timeZoneInForce(), shifts, by, model, station },
    source: {
      folder,
      made_at: new Date(now_ms).toISOString(),
      ...count.source(),
      travellersCompared,
      broken,
    },
    ...count.figures(),
    cycleTime: null,
    referenceChecks: [],
    downTime: [],
    notes: [...notes, ...count.notes()],
  };
}
