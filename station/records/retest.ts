import type { RetestRule } from "../../limits/model.ts";
import type { Disposition } from "./disposition.ts";

/** What the retest rule looks at in an attempt. */
export interface PastAttempt {
  readonly sha256: string;
  readonly recordKind: "unit" | "reference";
  readonly attempt: number;
  readonly kind: AttemptKind;
  readonly verdict: "pass" | "fail" | "void";
  readonly draft: boolean;
}

type AttemptKind = "first" | "retest" | "after_rework";

export type NextAttempt =
  | {
      readonly allowed: true;
      readonly attempt: number;
      readonly kind: AttemptKind;
      /** Tested anew only because a failed reference check put the last test in doubt: nobody has to say why. */
      readonly isAfterHold: boolean;
    }
  | {
      readonly allowed: false;
      readonly code: "ALREADY_PASSED" | "ATTEMPTS_USED_UP" | "VOIDS_USED_UP" | "HELD" | "SCRAPPED";
      readonly sentence: string;
    };

export interface NextAttemptOptions {
  /** What was decided about the unit, in the order in which it was recorded. */
  readonly dispositions?: readonly Disposition[];
  /** The attempt is on a draft limit file: it is numbered, but the rule neither binds nor counts it. */
  readonly draft?: boolean;
}

/**
 * Whether this serial may be tested once more, and as what. Draft and reference attempts never count, voids never
 * count as fails, and only attempts since the last rework do. A repeat after nothing but voids is still the first
 * inspection, since none of them was one.
 * @param history every attempt of the serial, drafts included
 * @returns the attempt's number, one more than the highest ever given to this serial
 */
export function nextAttempt(
  serial: string,
  history: readonly PastAttempt[],
  rule: Pick<RetestRule, "afterFail" | "afterVoid">,
  { dispositions = [], draft = false }: NextAttemptOptions = {},
): NextAttempt {
  const attempt = 1 + history.reduce((highest, past) => Math.max(highest, past.attempt), 0);
  const counted = history
    .filter((past) => past.recordKind === "unit" && !past.draft)
    .sort((a, b) => a.attempt - b.attempt);
  const reworked = dispositions.length > 0;
  const window = reworked ? [] : sinceLastRework(counted);
  const afterRework = reworked || window[0]?.kind === "after_rework";
  const count = (verdict: PastAttempt["verdict"]) => window.filter((past) => past.verdict === verdict).length;
  const fails = count("fail");
  const voids = count("void");
  const allowed = {
    allowed: true,
    attempt,
    kind: fails > 0 ? "retest" : afterRework ? "after_rework" : "first",
    isAfterHold: false,
  } as const;
  if (draft) return allowed;
  if (count("pass") > 0) {
    return refusal("ALREADY_PASSED", `Unit ${serial} has already passed: send it on, or scan another unit.`);
  }
  if (fails > rule.afterFail) {
    return refusal(
      "ATTEMPTS_USED_UP",
      `Unit ${serial} has failed ${times(fails)} and may not be tested again: send it to rework or scrap it.`,
    );
  }
  if (voids > rule.afterVoid) {
    return refusal(
      "VOIDS_USED_UP",
      `Unit ${serial} gave no valid measurement ${times(voids)}: put it aside and call the quality engineer.`,
    );
  }
  return allowed;
}

/** From the first attempt after the latest rework on; repeats of it that were fails or voids carry other kinds. */
function sinceLastRework(attempts: readonly PastAttempt[]): readonly PastAttempt[] {
  let start = 0;
  attempts.forEach((past, at) => {
    const before = attempts[at - 1];
    // A repeat after a void keeps the kind of the attempt it repeats: no new rework.
    const repeatsVoid = before?.kind === "after_rework" && before.verdict === "void";
    if (past.kind === "after_rework" && !repeatsVoid) start = at;
  });
  return attempts.slice(start);
}

function refusal(code: (NextAttempt & { allowed: false })["code"], sentence: string): NextAttempt {
  return { allowed: false, code, sentence };
}

function times(count: number): string {
  return count === 1 ? "once" : count === 2 ? "twice" : `${count} times`;
}
