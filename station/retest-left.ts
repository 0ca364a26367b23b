import type { RetestRule } from "../limits/model.ts";
import type { Disposition } from "./records/disposition.ts";
import { type NextAttempt, nextAttempt, type PastAttempt } from "./records/retest.ts";

/** What the retest rule still allows a unit that has not passed. */
export interface RetestLeft {
  /** So many tests more, should each of them fail; 0: none without a decision of somebody's. */
  readonly tests: number;
  /** Why none is; null where some are. */
  readonly refusal: (NextAttempt & { allowed: false }) | null;
  /** One of these has to be chosen; empty: none is asked for. */
  readonly reasons: readonly string[];
  /** No test before, wall time. */
  readonly from_ms: number;
}

/** A limit file may allow any number. */
const MOST_TOLD = 99;

/**
 * @param history every attempt of the unit, the one just ended included
 * @param ended_ms when that one ended, wall time
 * @example retestLeft("A1", [failed], [], { afterFail: 1, afterVoid: 2, reasons: [], pause_s: 30 }, 0)
 * // { tests: 1, refusal: null, reasons: [], from_ms: 30000 }
 */
export function retestLeft(
  serial: string,
  history: readonly PastAttempt[],
  dispositions: readonly Disposition[],
  rule: RetestRule,
  ended_ms: number,
): RetestLeft {
  const ahead: PastAttempt[] = [...history];
  let next = nextAttempt(serial, ahead, rule, { dispositions });
  const refusal = next.allowed ? null : next;
  let tests = 0;
  while (next.allowed && tests < MOST_TOLD) {
    tests++;
    ahead.push({
      sha256: `ahead ${tests}`,
      recordKind: "unit",
      attempt: next.attempt,
      kind: next.kind,
      verdict: "fail",
      draft: false,
    });
    next = nextAttempt(serial, ahead, rule, { dispositions });
  }
  return { tests, refusal, reasons: rule.reasons, from_ms: ended_ms + 1000 * rule.pause_s };
}
