import { exactInterval } from "../quality/exact-interval.ts";
import { counts, type Doubts } from "../records/doubts.ts";
import type { AttemptSummary } from "../records/index-db.ts";

export interface LastUnit {
  readonly serial: string;
  readonly model: string;
  /** "doubt": its newest valid test is held by the station; "held": somebody holds the unit. */
  readonly verdict: "pass" | "fail" | "void" | "doubt" | "held" | "scrapped";
  readonly attempt: number;
  /** End of its newest test, its start where nobody saw the end; ISO 8601. */
  readonly at: string;
}

/** What a day, or a shift, came to. Reference pieces and drafts are no part of it. */
export interface DayCount {
  /** Tests made: pass + fail + void, and those that a hold has taken the trust from. */
  readonly tested: number;
  /** Tests that can be trusted, by verdict. */
  readonly pass: number;
  readonly fail: number;
  readonly void: number;
  /** Units whose first valid inspection was among these tests, and how many of them passed it. */
  readonly inspected: number;
  readonly firstPassed: number;
  /** Null when nothing was inspected. */
  readonly firstPassYield: number | null;
  /** Where the yield of what made these units lies, 95 %, Clopper-Pearson. */
  readonly interval: { readonly low: number; readonly high: number } | null;
  /** Units whose newest valid test is held by the station: neither passed nor failed. */
  readonly heldInDoubt: number;
  /** Units that somebody holds, by one of these tests: inspected, and not to be sent on. None of them is `heldInDoubt`. */
  readonly heldByHand: number;
  /** Failed units by what they failed by, the most frequent first; a unit counts once for each. */
  readonly causes: ReadonlyMap<string, number>;
  /** Failed units by what their first failure was suspected of first, the most frequent first. */
  readonly suspected: ReadonlyMap<string, number>;
  /** Failed units that no rule fits. */
  readonly notSuspected: number;
  /** Newest first, each unit once. */
  readonly lastUnits: readonly LastUnit[];
}

export const NOTHING_COUNTED: DayCount = {
  tested: 0,
  pass: 0,
  fail: 0,
  void: 0,
  inspected: 0,
  firstPassed: 0,
  firstPassYield: null,
  interval: null,
  heldInDoubt: 0,
  heldByHand: 0,
  causes: new Map(),
  suspected: new Map(),
  notSuspected: 0,
  lastUnits: [],
};

const LAST_UNITS = 5;

/**
 * First pass yield is units good at their first inspection by units inspected, ISO 22400-2 (from memory): what was
 * tested twice counts once, and as it was the first time. A unit belongs to the count in which its first valid inspection
 * lies, so that the counts of all days together have every unit once. A test that a failed reference check has put in doubt was
 * no inspection: if the unit was tested anew, that is its first one; until then it is `heldInDoubt` and nothing else. A hold of
 * somebody's changes nothing of what was measured: the unit is counted as it was found, and is told beside, as `heldByHand`.
 * A unit that came back from rework is never good at first.
 * @param attempts in any order; references and drafts are passed over
 * @example dayCount([passOfA, failOfB, passOfB], NO_DOUBTS) // tested 3, inspected 2, firstPassed 1, firstPassYield 0.5
 */
export function dayCount(attempts: readonly AttemptSummary[], doubts: Doubts): DayCount {
  const units = byUnit(attempts.filter(counts));
  const verdicts = { pass: 0, fail: 0, void: 0 };
  let tested = 0;
  let inspected = 0;
  let firstPassed = 0;
  let heldInDoubt = 0;
  let heldByHand = 0;
  let notSuspected = 0;
  const causes = new Map<string, number>();
  const suspected = new Map<string, number>();
  for (const unit of units) {
    const trusted = unit.filter(({ sha256 }) => !doubts.untrusted.has(sha256));
    tested += unit.length;
    for (const { verdict } of trusted) verdicts[verdict]++;
    const first = trusted.find(({ verdict }) => verdict !== "void");
    if (first && (first.kind === "first" || doubts.firstInspections.has(first.sha256))) {
      inspected++;
      if (first.verdict === "pass" && first.kind !== "after_rework") firstPassed++;
    }
    const holder = doubts.heldByHand.get(unit[0]?.serial ?? "");
    if (holder !== undefined) heldByHand += unit.some(({ sha256 }) => sha256 === holder) ? 1 : 0;
    else if (unit.some(({ sha256 }) => doubts.inDoubt.has(sha256))) heldInDoubt++;
    const fails = trusted.filter(({ verdict }) => verdict === "fail");
    for (const cause of new Set(fails.flatMap((fail) => fail.causes))) addOne(causes, cause);
    if (!fails[0]) continue;
    if (fails[0].suspect === null) notSuspected++;
    else addOne(suspected, fails[0].suspect);
  }
  const interval = inspected === 0 ? null : exactInterval(firstPassed, inspected);
  return {
    tested,
    ...verdicts,
    inspected,
    firstPassed,
    firstPassYield: inspected === 0 ? null : firstPassed / inspected,
    interval: interval && { low: interval.lower, high: interval.upper },
    heldInDoubt,
    heldByHand,
    causes: mostFrequentFirst(causes),
    suspected: mostFrequentFirst(suspected),
    notSuspected,
    lastUnits: lastUnits(units, doubts),
  };
}

/** @returns each unit's attempts in their order; a unit is a serial of a model */
function byUnit(attempts: readonly AttemptSummary[]): AttemptSummary[][] {
  const units = new Map<string, AttemptSummary[]>();
  for (const attempt of [...attempts].sort((a, b) => a.sequence - b.sequence)) {
    const known = units.get(attempt.serial);
    if (known) known.push(attempt);
    else units.set(attempt.serial, [attempt]);
  }
  return [...units.values()];
}

function lastUnits(units: readonly AttemptSummary[][], doubts: Doubts): LastUnit[] {
  return units
    .flatMap((unit) => {
      const newest = unit.at(-1);
      if (!newest) return [];
      return [{ newest, verdict: standing(newest, unit, doubts) }];
    })
    .sort((a, b) => b.newest.sequence - a.newest.sequence)
    .slice(0, LAST_UNITS)
    .map(({ newest, verdict }) => ({
      serial: newest.serial,
      model: newest.model,
      verdict,
      attempt: newest.attempt,
      at: newest.ended_at ?? newest.started_at,
    }));
}

function standing(
  newest: AttemptSummary,
  unit: readonly AttemptSummary[],
  { inDoubt, untrusted, heldByHand, scrapped }: Doubts,
): LastUnit["verdict"] {
  if (scrapped.has(newest.serial)) return "scrapped";
  if (heldByHand.has(newest.serial)) return "held";
  const isDoubted = untrusted.has(newest.sha256) || unit.some(({ sha256 }) => inDoubt.has(sha256));
  return isDoubted ? "doubt" : newest.verdict;
}

function addOne(counts: Map<string, number>, name: string): void {
  counts.set(name, (counts.get(name) ?? 0) + 1);
}

/** Equally frequent ones by name, so that the order says nothing about the order of the tests. */
function mostFrequentFirst(counts: ReadonlyMap<string, number>): Map<string, number> {
  return new Map([...counts].sort((a, b) => b[1] - a[1] || (a[0] < b[0] ? -1 : 1)));
}
