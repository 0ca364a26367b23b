import type { RetestRule } from "../../limits/model.ts";
import { decidedAgainst } from "./decided-against.ts";
import type { Disposition } from "./disposition.ts";
import { counts, heldTravellers } from "./doubts.ts";

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
 * Whether this serial may be tested once more, and as what. Draft and reference attempts never count, voids never count as
 * fails. A repeat after nothing but voids is still the first inspection, since none of them was one.
 *
 * The counting begins anew, with the attempt after the one that the decision names,
 * - after a rework: the next attempt is `after_rework`;
 * - after a hold that the station made because a reference check failed, as long as nobody has lifted it: what was measured
 *   before proves nothing, and the next attempt is a `retest`. Lifting it brings the earlier verdict back, pass or fail: a fail
 *   counts again, a pass only where no later valid attempt has failed.
 * However often an attempt is named, that is one new beginning; so no history allows more tests than the rule does from each.
 *
 * A unit that was scrapped, or that somebody holds, is not tested, whatever was measured since it was held. Releasing a failed
 * unit only lifts the hold: its verdict stays a fail, because nothing was measured that says otherwise.
 * @param history every attempt of the serial, drafts included
 * @returns the attempt's number, one more than the highest ever given to this serial
 * @example nextAttempt("A1", [], { afterFail: 1, afterVoid: 2 }) // attempt 1, "first"
 */
export function nextAttempt(
  serial: string,
  history: readonly PastAttempt[],
  rule: Pick<RetestRule, "afterFail" | "afterVoid">,
  { dispositions = [], draft = false }: NextAttemptOptions = {},
): NextAttempt {
  const attempt = 1 + history.reduce((highest, past) => Math.max(highest, past.attempt), 0);
  const counted = history.filter(counts).sort((a, b) => a.attempt - b.attempt);
  const { window, begunBy } = sinceLastBeginning(counted, dispositions);
  const count = (verdict: PastAttempt["verdict"]) => window.filter((past) => past.verdict === verdict).length;
  const fails = count("fail");
  const voids = count("void");
  const allowed = {
    allowed: true,
    attempt,
    kind: fails > 0 || begunBy === "hold" ? "retest" : begunBy === "rework" ? "after_rework" : "first",
    isAfterHold: fails === 0 && begunBy === "hold",
  } as const;
  if (draft) return allowed;
  const against = decidedAgainst(serial, dispositions);
  if (against) return { allowed: false, ...against };
  // The newest, by number: a release may bring back a pass that a later test has proven wrong.
  if (window.findLast(({ verdict }) => verdict !== "void")?.verdict === "pass") {
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

interface Beginning {
  /** Attempts that the rule counts. */
  readonly window: readonly PastAttempt[];
  readonly begunBy: "first scan" | "rework" | "hold";
}

function sinceLastBeginning(
  counted: readonly PastAttempt[],
  dispositions: readonly Disposition[],
): Beginning {
  const { untrusted } = heldTravellers(dispositions);
  const reworked = new Set(
    dispositions
      .filter(({ kind }) => kind === "rework")
      .flatMap(({ units }) => units.map(({ traveller }) => traveller)),
  );
  const last = counted.findLastIndex((past) => reworked.has(past.sha256) || untrusted.has(past.sha256));
  const named = counted[last];
  const after = counted.slice(last + 1);
  const start = lastReworkedIn(after);
  const isRework = start !== null || (named !== undefined && reworked.has(named.sha256));
  return {
    window: after.slice(start ?? 0),
    begunBy: isRework ? "rework" : named === undefined ? "first scan" : "hold",
  };
}

/** @returns where the attempts after the latest rework begin, by their own kinds: repeats of the first carry others */
function lastReworkedIn(attempts: readonly PastAttempt[]): number | null {
  let start: number | null = null;
  attempts.forEach((past, at) => {
    const before = attempts[at - 1];
    // A repeat after a void keeps the kind of the attempt it repeats: no new rework.
    const repeatsVoid = before?.kind === "after_rework" && before.verdict === "void";
    if (past.kind === "after_rework" && !repeatsVoid) start = at;
  });
  return start;
}

function refusal(code: (NextAttempt & { allowed: false })["code"], sentence: string): NextAttempt {
  return { allowed: false, code, sentence };
}

function times(count: number): string {
  return count === 1 ? "once" : count === 2 ? "twice" : `${count} times`;
}
