import { quoted } from "../../limits/quantity.ts";
import { UsageError } from "../explain.ts";
import { DecidedUnits, knownDecisions } from "../records/known-decisions.ts";
import { type StoredAttempt, type StoredSource, storedAttempts } from "../records/read-stored-values.ts";
import { FirstTests } from "./first-tests.ts";
import { LeftOut } from "./left-out.ts";
import { PartAsked } from "./part-asked.ts";
import { Provenance } from "./provenance.ts";
import { Calendar, type RecordsQuery } from "./record-asked.ts";

/** An attempt that a study takes: of a unit, trusted, valid, and asked for. */
export interface RecordedTest {
  readonly attempt: StoredAttempt;
  readonly started_ms: number;
  /** Of `by`; "" where nothing was asked. */
  readonly group: string;
  /** Of `per`; "" where nothing was asked. */
  readonly period: string;
}

export type TestsQuery = Omit<RecordsQuery, "characteristic">;

/**
 * One pass over the valid tests of a model's units, in the order of recording. They are taken from the folder's index as far as it
 * goes, else from the travellers; nothing is written, no lock is taken, a station may be testing meanwhile. What is left
 * out is counted.
 */
export class RecordedTests {
  readonly left = new LeftOut();
  readonly #query: TestsQuery;
  readonly #by: PartAsked | null;
  readonly #only: readonly (readonly [PartAsked, string])[];
  readonly #calendar: Calendar;
  readonly #partsOf = partsReader();
  readonly #provenance = new Provenance();
  #source: StoredSource = { indexed: 0, records: 0 };

  constructor(query: TestsQuery) {
    this.#query = query;
    this.#by =
      query.by === undefined || FIXED_GROUPS.includes(query.by.toLowerCase())
        ? null
        : new PartAsked(query.by);
    this.#only = [...query.parts].map(([name, value]) => [new PartAsked(name), value]);
    this.#calendar = new Calendar(query.shifts);
  }

  /** What the groups are, by the limit file's own name where it is a tracked part. */
  get by(): string | undefined {
    return this.#by?.name ?? this.#query.by?.toLowerCase();
  }

  /** Tracked parts that the tests have, as far as they were looked at. */
  get knownParts(): readonly string[] {
    return [
      ...new Set([this.#by, ...this.#only.map(([part]) => part)].flatMap((it) => it?.known ?? [])),
    ].sort();
  }

  /**
   * @throws UsageError where a tracked part isn't plain; RecordError where the folder can't be read, or a disposition is not as recorded
   */
  async *all(): AsyncGenerator<RecordedTest, void, void> {
    const { folder, model, from, to, attempts, withDrafts } = this.#query;
    const { left } = this;
    const decisions = await knownDecisions(folder);
    const units = new DecidedUnits(decisions);
    const first = new FirstTests(decisions.held.untrusted);
    const days = { ...(from === undefined ? {} : { from }), ...(to === undefined ? {} : { to }) };
    const begun = (source: StoredSource) => {
      this.#source = source;
    };
    for await (const found of storedAttempts(folder, { model, ...days }, begun)) {
      if (found.kind === "broken") {
        left.broken.push({ path: found.path, problem: found.problem });
        continue;
      }
      const { attempt } = found;
      const { form } = attempt;
      const isFirst = form.recordKind === "unit" && first.isFirst(attempt);
      const started_ms = Date.parse(attempt.started_at);
      if (!this.#isAsked(attempt, started_ms)) continue;
      units.meet(attempt.serial);
      if (form.study) left.add("study");
      else if (form.recordKind === "reference") left.add("reference");
      else if (form.draft && !withDrafts) left.add("draft");
      else if (first.isHeld(attempt)) left.add("held");
      else if (form.verdict === "void") left.add("void");
      else if (attempts === "first" && !isFirst) left.add("repeat");
      else {
        const group = this.#groupOf(attempt, started_ms);
        if (group === undefined) left.add("no group");
        else yield { attempt, started_ms, group, period: this.#periodOf(started_ms) };
      }
    }
    await units.requireFiles();
  }

  /** To be told of each test that gave the study something: what the source says, and the notes. */
  take({ attempt: { form }, started_ms }: RecordedTest): void {
    if (form.simulated) this.left.simulated++;
    if (form.draft) this.left.drafts++;
    this.#provenance.take({ started_ms, station: form.station, revision: form.limitFile.revision });
  }

  /** Which records, days, revisions and stations: for a page, and a terminal. */
  sourceText(): string {
    const { folder, from, to, shift, parts, attempts, withDrafts } = this.#query;
    return [
      `records in ${folder}${from === undefined ? "" : ` from ${from}`}${to === undefined ? "" : ` to ${to}`}`,
      ...this.#provenance.words(),
      ...(shift === undefined ? [] : [`shift ${shift}`]),
      ...[...parts].map(([part, value]) => `${part} ${value}`),
      attempts === "first" ? "each unit's first valid test" : "all valid attempts",
      ...(withDrafts ? ["drafts, too"] : []),
      ...(this.by === undefined ? [] : [`by ${this.by}`]),
      this.#source.indexed > 0 ? "values by the folder's index" : "values by the travellers",
    ].join(", ");
  }

  /** @param what that nothing was found of: "valid test" */
  nothingFound(what: string): UsageError {
    const { folder, model, by } = this.#query;
    const why = this.left.notes(0)[0];
    const parts = this.knownParts;
    const group =
      this.#by !== null && this.left.count("no group") > 0
        ? ` No unit has ${quoted(by ?? "")}: ${parts.length > 0 ? `tracked are ${parts.join(", ")}` : "no part is tracked"}.`
        : "";
    return new UsageError(
      `No ${what} of ${quoted(model)} in ${folder}: check folder, model, days and parts.${group}${why === undefined ? "" : ` ${why}`}`,
    );
  }

  #isAsked(attempt: StoredAttempt, started_ms: number): boolean {
    const { shift, at } = this.#query;
    if (at !== undefined && attempt.form.station !== at) return false;
    if (shift !== undefined && this.#calendar.shiftOf(started_ms) !== shift) return false;
    return this.#only.every(([part, value]) => part.of(this.#partsOf(attempt.parts)) === value);
  }

  #groupOf({ form, parts }: StoredAttempt, started_ms: number): string | undefined {
    if (this.#by) return this.#by.of(this.#partsOf(parts));
    switch (this.#query.by?.toLowerCase()) {
      case undefined:
        return "";
      case "station":
        return form.station;
      case "model":
        return form.model;
      case "day":
        return this.#calendar.dayOf(started_ms);
      default:
        return this.#calendar.shiftOf(started_ms);
    }
  }

  #periodOf(started_ms: number): string {
    const { per } = this.#query;
    if (per === undefined) return "";
    return per === "day" ? this.#calendar.dayOf(started_ms) : this.#calendar.datedShiftOf(started_ms);
  }
}

/** What tests can be grouped by besides tracked parts. */
const FIXED_GROUPS: readonly string[] = ["station", "model", "day", "shift"];

/** Parts of one unit are asked for several times in a row. */
function partsReader(): (text: string) => Readonly<Record<string, string>> {
  let last = "";
  let parts: Readonly<Record<string, string>> = {};
  return (text) => {
    if (text !== last) {
      parts = JSON.parse(text) as Record<string, string>;
      last = text;
    }
    return parts;
  };
}
