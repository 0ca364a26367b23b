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

/**
 * @param history every attempt of the unit, in order
 * @returns what keeps a unit that failed from being tested again now: a pause that is not over, a reason that there is not
 */
export function refuseRetest(
  { serial, retestReason }: Scan,
  history: readonly PastAttempt[],
  { pause_s, reasons }: RetestRule,
  now_ms: number,
): Reason[] {
  return [
    ...refuseTooSoon(serial, history, pause_s, now_ms),
    ...(retestReason === undefined || reasons.length === 0 || retestReason <= reasons.length
      ? []
      : [noSuchReason(serial, reasons)]),
  ];
}

function refuseTooSoon(
  serial: string,
  history: readonly PastAttempt[],
  pause_s: number,
  now_ms: number,
): Reason[] {
  const failed = history.findLast((it) => it.recordKind === "unit" && !it.draft && it.verdict === "fail");
  if (!failed) return [];
  const since_s = (now_ms - Date.parse(failed.ended_at ?? failed.started_at)) / 1000;
  const left_s = Math.ceil(pause_s - since_s);
  // A clock that was put back does not know how long ago that was; waiting for it could take for ever.
  if (since_s < 0 || left_s <= 0) return [];
  const sentence = `${serial} failed ${Math.floor(since_s)} s ago and has to cool: test it again in ${left_s} s. Scan another unit meanwhile, or scan this one again then.`;
  return [{ code: "RETEST_TOO_SOON", sentence }];
}

function noSuchReason(serial: string, reasons: readonly string[]): Reason {
  const choices = reasons.map((reason, i) => `${i + 1} ${reason}`).join(", ");
  return {
    code: "RETEST_REASON_MISSING",
    sentence: `There is no such reason to test ${serial} again. There are: ${choices}.`,
  };
}
