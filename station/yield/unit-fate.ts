import type { Disposition } from "../records/disposition.ts";
import { heldTravellers } from "../records/doubts.ts";
import type { StoredForm } from "../records/stored-values.ts";
import { lackingRecords, type UnitState, unitState } from "../records/unit-state.ts";
import { findingsOf } from "./form-findings.ts";

/** One test of a unit, as a yield looks at it; never a draft's or a reference piece's. */
export interface UnitTest {
  readonly sequence: number;
  readonly sha256: string;
  readonly attempt: number;
  /** When it ended, or began where nobody saw the end; ISO 8601, UTC. */
  readonly at: string;
  readonly form: StoredForm;
  /** Names and numbers of tracked parts, canonical JSON. */
  readonly parts: string;
  /** Of a fail: what it is suspected of before anything else. */
  readonly suspect: string | null;
}

/** What became of a unit, apart from when it was inspected. */
export interface Fate {
  /** Of its first inspection. */
  readonly form: StoredForm;
  readonly now: "good" | "failed" | "held" | "scrapped";
  /** Passed at its first inspection, and had not been reworked before. */
  readonly isGoodAtFirst: boolean;
  /** A valid test after a failed first inspection and before any rework: whether the newest of them passed. */
  readonly retest: "none" | "passed" | "failed";
  /** Whether it was ever reworked, and whether its newest valid test came after that and passed. */
  readonly rework: "none" | "passed" | "not passed";
}

/** A unit with all that is known of it. */
export interface UnitSoFar {
  readonly serial: string;
  /** Every test of it that counts, by attempt. */
  readonly tests: readonly UnitTest[];
  /** Those that name the unit, in the order of recording. */
  readonly dispositions: readonly Disposition[];
  /** A test of it may be missing, or is not as it was recorded. */
  readonly lacksRecords?: boolean;
}

export interface FollowedUnit {
  /** Null where it was never inspected, or its first inspection is not among the tests: a retest's is somewhere else. */
  readonly inspected: { readonly first: UnitTest; readonly fate: Fate } | null;
  readonly state: UnitState;
  /** What repairs found. */
  readonly causes: readonly string[];
}

/**
 * What most units come to: nothing was ever decided about them, and none came back from rework.
 * @param first of the first valid test
 * @param last of the newest valid test, perhaps the same
 */
export function plainFate(first: StoredForm, last: StoredForm): Fate {
  const isRetested = first.verdict === "fail" && last.kind === "retest";
  return {
    form: first,
    now: last.verdict === "pass" ? "good" : "failed",
    isGoodAtFirst: first.verdict === "pass",
    retest: isRetested ? passedOrFailed(last) : "none",
    rework: "none",
  };
}

/**
 * A unit's first inspection is its first valid test that can be trusted: one that a failed reference check has put in doubt, and
 * that nobody has released, was none. What somebody holds was measured all the same, but is not good until it is released.
 * What was reworked is good once it has passed anew.
 */
export function followedUnit(unit: UnitSoFar): FollowedUnit {
  const { tests, dispositions } = unit;
  const state = unit.lacksRecords ? lackingRecords(stateOf(unit)) : stateOf(unit);
  const own = dispositions.filter((it) => it.units.some(({ serial }) => serial === unit.serial));
  const causes = [...new Set(own.flatMap(({ rework }) => rework?.cause ?? []))];
  const { untrusted } = heldTravellers(own);
  const valid = tests.filter(({ form }) => form.verdict !== "void");
  const trusted = valid.filter(({ sha256 }) => !untrusted.has(sha256));
  const [first] = trusted;
  const last = trusted.at(-1);
  if (!first || !last || (first === valid[0] && first.form.kind === "retest")) {
    return { inspected: null, state, causes };
  }
  const reworks = reworkedAfter(unit);
  const firstRework = Math.min(...reworks);
  const isPassed = last.form.verdict === "pass" && last.attempt > Math.max(...reworks);
  const retest = trusted.findLast((it) => it.form.kind === "retest" && it.attempt <= firstRework);
  const fate: Fate = {
    form: first.form,
    now: nowOf(state),
    isGoodAtFirst: first.form.verdict === "pass" && first.attempt <= firstRework,
    retest:
      first.form.verdict === "fail" && retest && retest !== first ? passedOrFailed(retest.form) : "none",
    rework: reworks.length === 0 ? "none" : isPassed ? "passed" : "not passed",
  };
  return { inspected: { first, fate }, state, causes };
}

/** @returns attempts after which the unit was reworked; a test after rework tells of one, too */
function reworkedAfter({ serial, tests, dispositions }: UnitSoFar): number[] {
  return [
    ...dispositions.flatMap(({ kind, units }) =>
      kind === "rework" ? units.filter((it) => it.serial === serial).map(({ attempt }) => attempt) : [],
    ),
    ...tests.flatMap(({ form, attempt }) => (form.kind === "after_rework" ? [attempt - 1] : [])),
  ];
}

function stateOf({ serial, tests, dispositions }: UnitSoFar): UnitState {
  const attempts = tests.map(({ sha256, attempt, at, form }) => {
    const { recordKind, draft, verdict, codes } = form;
    const { causes } = findingsOf(form);
    return { sha256, recordKind, draft, verdict, attempt, started_at: at, ended_at: at, codes, causes };
  });
  return unitState({ serial, attempts, dispositions });
}

function nowOf({ state }: UnitState): Fate["now"] {
  if (state === "good" || state === "scrapped") return state;
  return state === "held" || state === "in_doubt" ? "held" : "failed";
}

function passedOrFailed({ verdict }: StoredForm): "passed" | "failed" {
  return verdict === "pass" ? "passed" : "failed";
}
