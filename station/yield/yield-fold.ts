import type { StoredForm } from "../records/stored-values.ts";
import { findingsOf } from "./form-findings.ts";
import { addTo, paretoOf } from "./pareto.ts";
import { type TimeGrouping, type TimeRange, timeRanges } from "./time-ranges.ts";
import type { Fate } from "./unit-fate.ts";
import type { ParetoBar, YieldBreakdown, YieldCounts, YieldGrouping } from "./yield-report.ts";
import { YieldTally } from "./yield-tally.ts";

const TIME_GROUPINGS: readonly string[] = ["day", "shift", "hour"] satisfies TimeGrouping[];

export interface FoldQuery {
  readonly by: readonly YieldGrouping[];
  /** The time that is counted: from a moment up to another. */
  readonly from_ms: number;
  readonly to_ms: number;
  /** Begins of shifts, ascending. */
  readonly shifts: readonly string[];
}

interface Group {
  readonly name: string;
  readonly range: TimeRange | null;
  readonly tally: YieldTally;
}

/**
 * Units and tests by whatever was asked for. They may be given one by one or many alike at once; a number below zero takes
 * back what was given before.
 */
export class YieldFold {
  /** Borders of all days, shifts and hours that are asked for: what lies between two of them is in the same ones. */
  readonly segments: readonly TimeRange[];
  readonly #query: FoldQuery;
  readonly #total = new YieldTally();
  /** By grouping, then by name; of times by segment. */
  readonly #groups = new Map<YieldGrouping, Map<string, Group>>();
  readonly #times = new Map<YieldGrouping, readonly Group[]>();
  /** The same by segment, one of each grouping. */
  readonly #timesAt: readonly (readonly Group[])[];
  readonly #causes = new Map<string, number>();
  readonly #suspects = new Map<string, number>();
  readonly #voids = new Map<string, number>();
  readonly #partsOf = new Map<string, readonly (readonly [string, string])[]>();
  #failedAtFirst = 0;

  constructor(query: FoldQuery) {
    this.#query = query;
    const { from_ms, to_ms, shifts } = query;
    const times = query.by.flatMap((by) =>
      isTime(by) ? [[by, timeRanges(by, from_ms, to_ms, shifts)] as const] : [],
    );
    const borders = [...new Set([from_ms, ...times.flatMap(([, ranges]) => ranges.map((it) => it.from_ms))])];
    borders.sort((a, b) => a - b);
    this.segments = borders.map((begin, k) => ({ name: "", from_ms: begin, to_ms: borders[k + 1] ?? to_ms }));
    for (const by of query.by) if (!isTime(by)) this.#groups.set(by, new Map());
    for (const [by, ranges] of times) {
      const groups = ranges.map((range) => this.#group(range.name, range));
      let k = 0;
      this.#times.set(
        by,
        this.segments.flatMap((segment) => {
          while (segment.from_ms >= (groups[k]?.range?.to_ms ?? Number.POSITIVE_INFINITY)) k++;
          return groups[k] ?? [];
        }),
      );
    }
    this.#timesAt = this.segments.map((_, at) =>
      [...this.#times.values()].flatMap((groups) => groups[at] ?? []),
    );
  }

  /** @returns the place of the segment that a moment lies in; null outside the time that is counted */
  segmentAt(at_ms: number): number | null {
    const { segments } = this;
    if (!(at_ms >= this.#query.from_ms && at_ms < this.#query.to_ms)) return null;
    let [low, high] = [0, segments.length];
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if ((segments[middle]?.from_ms ?? 0) <= at_ms) low = middle;
      else high = middle;
    }
    return low;
  }

  /**
   * @param segment in which their first inspections ended
   * @param parts of their first inspections, JSON
   */
  addUnits(fate: Fate, units: number, segment: number, parts: string): void {
    this.#total.addUnits(fate, units);
    for (const group of this.#groupsOf(fate.form, segment, parts)) group.tally.addUnits(fate, units);
    if (fate.form.verdict !== "fail") return;
    this.#failedAtFirst += units;
    for (const cause of new Set(findingsOf(fate.form).causes)) addTo(this.#causes, cause, units);
  }

  /** Of units that failed at first: what they were suspected of before anything else; null where no rule fits. */
  addSuspect(suspect: string | null, units: number): void {
    if (suspect !== null) addTo(this.#suspects, suspect, units);
  }

  /** @param segment in which the tests ended */
  addTests(form: StoredForm, tests: number, segment: number, parts: string): void {
    this.#total.addTests(form, tests);
    for (const group of this.#groupsOf(form, segment, parts)) group.tally.addTests(form, tests);
    if (form.verdict === "void") addTo(this.#voids, form.codes[0] ?? "NOT_SAID", tests);
  }

  total(): YieldCounts {
    return this.#total.counts();
  }

  breakdowns(): YieldBreakdown[] {
    return this.#query.by.map((by) => {
      const times = this.#times.get(by);
      const groups = times ? new Set(times) : sortedByName(this.#groups.get(by)?.values() ?? []);
      return {
        by,
        groups: [...groups].flatMap(({ name, range, tally }) => {
          if (tally.isEmpty) return [];
          const [from, to] = range ? [isoOf(range.from_ms), isoOf(range.to_ms)] : [null, null];
          return [{ name, from, to, counts: tally.counts() }];
        }),
      };
    });
  }

  paretos(): Record<"failingCharacteristics" | "suspectedCauses" | "voidsByCause", ParetoBar[]> {
    const voids = [...this.#voids.values()].reduce((sum, count) => sum + count, 0);
    return {
      failingCharacteristics: paretoOf(this.#causes, this.#failedAtFirst),
      suspectedCauses: paretoOf(this.#suspects, this.#failedAtFirst),
      voidsByCause: paretoOf(this.#voids, voids),
    };
  }

  #groupsOf(form: StoredForm, segment: number, parts: string): readonly Group[] {
    const times = this.#timesAt[segment] ?? NONE;
    if (this.#groups.size === 0) return times;
    const others = [...this.#groups].flatMap(([by, groups]) =>
      this.#namesOf(by, form, parts).map((name) => {
        const known = groups.get(name) ?? this.#group(name, null);
        groups.set(name, known);
        return known;
      }),
    );
    return [...times, ...others];
  }

  #namesOf(by: YieldGrouping, form: StoredForm, parts: string): readonly string[] {
    switch (by) {
      case "model":
        return [form.model];
      case "station":
        return [form.station];
      case "revision":
        return [`${form.model} revision ${form.limitFile.revision}`];
      default:
        return this.#parts(parts).flatMap(([part, number]) =>
          part.toLowerCase().includes(by) ? [`${part} ${number}`] : [],
        );
    }
  }

  #parts(text: string): readonly (readonly [string, string])[] {
    const known = this.#partsOf.get(text);
    if (known) return known;
    const parts = Object.entries(JSON.parse(text) as Record<string, string>);
    // Where one is a serial number, none comes twice.
    if (this.#partsOf.size < PARTS_KEPT) this.#partsOf.set(text, parts);
    return parts;
  }

  #group(name: string, range: TimeRange | null): Group {
    return { name, range, tally: new YieldTally() };
  }
}

const PARTS_KEPT = 10_000;
const NONE: readonly Group[] = [];

function isTime(by: YieldGrouping): by is TimeGrouping {
  return TIME_GROUPINGS.includes(by);
}

/** @returns whether a grouping is by what the tracked parts of a unit are */
export function isByParts(by: YieldGrouping): boolean {
  return by === "cavity" || by === "lot";
}

/** P2 before P10. */
function sortedByName(groups: Iterable<Group>): Group[] {
  const { compare } = new Intl.Collator("en", { numeric: true });
  return [...groups].sort((a, b) => compare(a.name, b.name) || (a.name < b.name ? -1 : 1));
}

function isoOf(at_ms: number): string {
  return new Date(at_ms).toISOString();
}
