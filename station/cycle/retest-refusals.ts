import type { RetestRule } from "../../limits/model.ts";
import type { Reason } from "./reason.ts";
import type { Scan } from "./scan.ts";

/** What the records say of an earlier attempt, as far as it matters here. */
interface PastAttempt {
  readonly recordKind: "unit" | "reference";
  readonly draft: boolean;
  readonly verdict: "pass" | "fail" | "void";
  readonly started_at: string;
  readonly ended_at: string | null;
}

/** The moment of asking, by two clocks. */
export interface RetestMoment {
  readonly now_ms: number;
  /** Since somebody first asked to test this unit again after its newest fail; by a clock that nobody puts back, s. */
  readonly sinceAsked_s: number;
}

/**
 * @param history every attempt of the unit, in order
 * @returns what keeps a unit that failed from being tested again now: a pause that is not over, a reason that there is not
 */
export function refuseRetest(
  { serial, retestReason }: Scan,
  history: readonly PastAttempt[],
  { pause_s, reasons }: RetestRule,
  moment: RetestMoment,
): Reason[] {
  return [
    ...refuseTooSoon(serial, history, pause_s, moment),
    ...(retestReason === undefined || reasons.length === 0 || retestReason <= reasons.length
      ? []
      : [noSuchReason(serial, reasons)]),
  ];
}

function refuseTooSoon(
  serial: string,
  history: readonly PastAttempt[],
  pause_s: number,
  { now_ms, sinceAsked_s }: RetestMoment,
): Reason[] {
  const failed = newestFail(history);
  if (!failed) return [];
  const since_s = (now_ms - Date.parse(failed.ended_at ?? failed.started_at)) / 1000;
  // A clock that was put back does not know how long ago that was: then the pause begins with the first asking.
  const cooled_s = Math.max(since_s, sinceAsked_s);
  const left_s = Math.ceil(pause_s - cooled_s);
  if (left_s <= 0) return [];
  const when =
    since_s < 0
      ? "earlier, at a time that this computer's clock was put back behind,"
      : `${Math.floor(since_s)} s ago`;
  const sentence = `${serial} failed ${when} and has to cool: test it again in ${left_s} s. Scan another unit meanwhile, or scan this one again then.`;
  return [{ code: "RETEST_TOO_SOON", sentence }];
}

/** @returns the attempt that a retest's pause counts from; undefined where none has failed */
export function newestFail<T extends PastAttempt>(history: readonly T[]): T | undefined {
  return history.findLast((it) => it.recordKind === "unit" && !it.draft && it.verdict === "fail");
}

function noSuchReason(serial: string, reasons: readonly string[]): Reason {
  const choices = reasons.map((reason, i) => `${i + 1} ${reason}`).join(", ");
  return {
    code: "RETEST_REASON_MISSING",
    sentence: `There is no such reason to test ${serial} again. There are: ${choices}.`,
  };
}
