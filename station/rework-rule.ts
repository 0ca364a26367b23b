import type { RetestRule } from "../limits/model.ts";
import type { UnitStanding } from "./records/dispositions.ts";
import { nextAttempt } from "./records/retest.ts";

type Standing = Pick<
  UnitStanding,
  "serial" | "attempts" | "dispositions" | "newest" | "isReworked" | "isScrapped"
>;

/**
 * Whether a rework of the unit may be recorded, after which it is tested anew: only when it failed, or gave no valid
 * measurement as often as it may, and only once for the same test. Else a rework would be a way round the retest rule.
 * @param rule of the model's limit file; null where it is not known
 * @returns a sentence with what to do instead; null when it may
 */
export function whyNoRework(
  { serial, attempts, dispositions, newest, isReworked, isScrapped }: Standing,
  rule: Pick<RetestRule, "afterFail" | "afterVoid"> | null,
): string | null {
  if (isScrapped) return `Unit ${serial} was scrapped: it is not tested any more.`;
  if (!newest) {
    const isPiece = attempts.some(({ recordKind }) => recordKind === "reference");
    return isPiece
      ? `${serial} is a reference piece, which is not reworked.`
      : `Unit ${serial} was tested on draft limits only, or for a study, which count for nothing: test it first.`;
  }
  if (isReworked) {
    return `A rework of ${serial} is recorded already, after attempt ${newest.attempt}: test it now.`;
  }
  const begun = Math.max(
    0,
    ...dispositions
      .filter(({ kind }) => kind === "rework")
      .flatMap(({ units }) => units.filter((unit) => unit.serial === serial).map(({ attempt }) => attempt)),
  );
  const valid = attempts
    .filter(({ recordKind, draft, verdict }) => recordKind === "unit" && !draft && verdict !== "void")
    .filter(({ attempt }) => attempt > begun)
    .sort((a, b) => b.attempt - a.attempt)[0];
  if (valid?.verdict === "fail") return null;
  if (valid) {
    return `Unit ${serial} did not fail, its attempt ${valid.attempt} passed: there is nothing to rework.`;
  }
  if (rule === null) {
    return `Unit ${serial} gave no valid measurement, and did not fail: test it again. If the station refuses that, add --station FILE here.`;
  }
  const next = nextAttempt(serial, attempts, rule, { dispositions });
  if (!next.allowed && next.code === "VOIDS_USED_UP") return null;
  return `Unit ${serial} gave no valid measurement, and did not fail: test it again.`;
}
