import { join } from "node:path";
import { attemptOfRow } from "../records/attempt-row.ts";
import type { CheckedDatabase } from "../records/checked-database.ts";
import type { Disposition } from "../records/disposition.ts";
import { counts } from "../records/doubts.ts";
import type { AttemptSummary } from "../records/index-db.ts";
import type { KnownDecisions } from "../records/known-decisions.ts";
import { safeSerial, safeSerialIn } from "../records/record-name.ts";
import { lackingRecords, type UnitState, unitState } from "../records/unit-state.ts";
import { type DetailTest, detailTests } from "./detail-tests.ts";
import { measuredSeries } from "./measured-series.ts";
import type { FailedTest, YieldDetail } from "./yield-detail.ts";

export interface DetailQuery {
  readonly folder: string;
  /** First moment; null: from the first record. */
  readonly from_ms: number | null;
  /** The moment after the last; null: up to the newest record. */
  readonly to_ms: number | null;
  /** Only of this model, only tested at this station; null: whatever there is. */
  readonly model: string | null;
  readonly station: string | null;
  /** Travellers that are no part of any figure, as the yield report names them. */
  readonly broken: readonly { readonly path: string }[];
  /** Number of the newest record that it saw. */
  readonly newest: number;
  /** What had been decided, of the units of these days as the yield report has held it against the files. */
  readonly decisions: Pick<KnownDecisions, "held" | "of">;
}

type Standing = [serial: string, attempts: readonly AttemptSummary[], dispositions: readonly Disposition[]];

/** More are not looked at by anybody. */
const MOST_FAILURES = 2000;

/**
 * The values and failures of some days, for a page. No lock is taken and nothing is made: a station may be testing meanwhile.
 * @param database the folder's index, at the moment that the yield report is of; undefined where it is not to be asked
 * @throws RecordError where the folder can't be read; SqliteError for a spoilt index
 */
export async function collectYieldDetail(
  query: DetailQuery,
  database: CheckedDatabase | undefined,
): Promise<YieldDetail> {
  const { folder, model, station, decisions } = query;
  const { held } = decisions;
  const { tests: all, notIndexed } = await detailTests(query, database);
  const broken = new Set(query.broken.map(({ path }) => path));
  const tests = all.filter(
    ({ form, path }) =>
      (model === null || form.model === model) &&
      (station === null || form.station === station) &&
      !broken.has(join(folder, path)),
  );
  const trusted = tests.filter(({ sha256 }) => !held.untrusted.has(sha256));
  const failed = trusted.filter(({ verdict }) => verdict === "fail");
  const histories = new Histories(database, notIndexed);
  const doubted = new Set([...held.untrusted.values()].map(({ serial }) => serial));
  const isFirst = (test: DetailTest) =>
    doubted.has(test.serial)
      ? firstTrusted(histories.of(test.serial), held.untrusted)?.sha256 === test.sha256
      : test.isFirst;
  const brokenOf = new Set(query.broken.map(({ path }) => safeSerialIn(path)));
  const standing = (...[serial, attempts, dispositions]: Standing) => {
    const state = unitState({ serial, attempts, dispositions });
    return brokenOf.has(safeSerial(serial)) ? lackingRecords(state) : state;
  };
  const left = tests.length - trusted.length;
  return {
    measured: measuredSeries(trusted.filter(isFirst)),
    failures: failed
      .slice(0, MOST_FAILURES)
      .map((test) =>
        failedTest(test, standing(test.serial, histories.of(test.serial), decisions.of(test.serial))),
      ),
    failuresLeftOut: Math.max(0, failed.length - MOST_FAILURES),
    notes:
      left === 0
        ? []
        : [
            `${left} ${left === 1 ? "test that a reference check has" : "tests that reference checks have"} put in doubt ${left === 1 ? "is" : "are"} in no chart and no list here.`,
          ],
  };
}

function failedTest(test: DetailTest, { state }: UnitState): FailedTest {
  const { serial, form, at, attempt, kind, causes, suspect, path } = test;
  return {
    serial,
    model: form.model,
    at,
    attempt,
    kind,
    failedBy: causes,
    suspect,
    now: STATES[state],
    path,
  };
}

const STATES: Readonly<Record<UnitState["state"], string>> = {
  good: "good",
  failed: "failed",
  held: "held",
  in_doubt: "in doubt",
  scrapped: "scrapped",
  reworked: "reworked, not tested since",
  void: "no valid test",
  none: "no test that counts",
};

function firstTrusted(
  history: readonly AttemptSummary[],
  untrusted: { has(sha256: string): boolean },
): AttemptSummary | undefined {
  return history.find((it) => counts(it) && it.verdict !== "void" && !untrusted.has(it.sha256));
}

/** Every attempt of units, by the index and what it has not got. */
class Histories {
  readonly #indexed: (serial: string) => readonly AttemptSummary[];
  readonly #notIndexed = new Map<string, AttemptSummary[]>();

  constructor(database: CheckedDatabase | undefined, notIndexed: readonly AttemptSummary[]) {
    const asked = database?.prepare("SELECT * FROM attempts WHERE serial = ? ORDER BY attempt");
    this.#indexed = (serial) => asked?.all(serial).map((row) => attemptOfRow(row)) ?? [];
    for (const one of notIndexed) {
      const known = this.#notIndexed.get(one.serial);
      if (known) known.push(one);
      else this.#notIndexed.set(one.serial, [one]);
    }
  }

  /** In the order of their numbers. */
  of(serial: string): readonly AttemptSummary[] {
    const indexed = this.#indexed(serial);
    const has = new Set(indexed.map(({ sequence }) => sequence));
    const others = (this.#notIndexed.get(serial) ?? []).filter(({ sequence }) => !has.has(sequence));
    return [...indexed, ...others].sort((a, b) => a.attempt - b.attempt);
  }
}
