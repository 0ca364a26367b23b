import type { StoredForm } from "../records/stored-values.ts";

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

/** A unit that was inspected. */
export interface InspectedUnit extends Fate {
  readonly first: UnitTest;
}

/**
 * What most units come to: nothing was ever decided about them, and none came back from rework.
 * @param first of the first valid test
 * @param last of the newest valid test, perhaps the same
 */
export function plainFate(first: StoredForm, last: StoredForm): Fate {
  return {
    form: first,
    now: last.verdict === "pass" ? "good" : "failed",
    isGoodAtFirst: first.verdict === "pass",
    retest:
      first.verdict !== "fail" || last.kind !== "retest"
        ? "none"
        : last.verdict === "pass"
          ? "passed"
          : "failed",
    rework: "none",
  };
}

/** What was decided about a unit, as far as a yield asks. */
export interface Decided {
  /** Travellers that a failed reference check has put in doubt, and that nobody has released, by SHA-256. */
  readonly untrusted: ReadonlySet<string>;
  /** Somebody holds it, whatever was measured. */
  readonly isHeldByHand: boolean;
  readonly isScrapped: boolean;
  /** Attempts after which it was reworked, ascending. */
  readonly reworkedAfter: readonly number[];
}

/**
 * A unit's first inspection is its first valid test that can be trusted: one that a failed reference check has put in doubt, and
 * that nobody has released, was none. What somebody holds was measured all the same, but is not good until it is released.
 * What was reworked is good once it has passed anew.
 * @param tests every test of the unit that counts, by attempt
 * @returns null where the unit was never inspected, or its first inspection is not among the tests: a retest's is somewhere else
 */
export function unitFate(tests: readonly UnitTest[], decided: Decided): InspectedUnit | null {
  const { untrusted, isHeldByHand, isScrapped } = decided;
  const valid = tests.filter(({ form }) => form.verdict !== "void");
  const trusted = valid.filter(({ sha256 }) => !untrusted.has(sha256));
  const [first] = trusted;
  const last = trusted.at(-1);
  if (!first || !last || (first === valid[0] && first.form.kind === "retest")) return null;
  // A record of the rework may be lost where its test is not.
  const reworks = [
    ...decided.reworkedAfter,
    ...tests.flatMap(({ form, attempt }) => (form.kind === "after_rework" ? [attempt - 1] : [])),
  ];
  const firstRework = Math.min(...reworks);
  const isPassed = last.form.verdict === "pass" && last.attempt > Math.max(...reworks);
  const isInDoubt = valid.at(-1) !== last;
  const retest = trusted.findLast((it) => it.form.kind === "retest" && it.attempt <= firstRework);
  return {
    first,
    form: first.form,
    now: isScrapped ? "scrapped" : isHeldByHand || isInDoubt ? "held" : isPassed ? "good" : "failed",
    isGoodAtFirst: first.form.verdict === "pass" && first.attempt <= firstRework,
    retest:
      first.form.verdict !== "fail" || !retest || retest === first
        ? "none"
        : retest.form.verdict === "pass"
          ? "passed"
          : "failed",
    rework: reworks.length === 0 ? "none" : isPassed ? "passed" : "not passed",
  };
}
