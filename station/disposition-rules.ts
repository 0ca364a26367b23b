import type { RetestRule } from "../limits/model.ts";
import type { Role } from "./people/person.ts";
import type { UnitStanding } from "./records/dispositions.ts";
import type { UnitState } from "./records/unit-state.ts";
import { whyNoRework } from "./rework-rule.ts";

/** What somebody may decide about a unit. */
export type Act = "hold" | "release" | "rework" | "scrap";

/** Who may, where people sign in: at least this. Everybody may stop a unit; only a supervisor lets one go, or ends it. */
export const LEAST_ROLE: Readonly<Record<Act, Role>> = {
  hold: "inspector",
  release: "supervisor",
  rework: "inspector",
  scrap: "supervisor",
};

export type DecidedUnit = Pick<
  UnitStanding,
  "serial" | "attempts" | "dispositions" | "newest" | "isReworked" | "isScrapped" | "state"
>;

export interface DecidingOptions {
  /** A test of it has begun and is not recorded yet. */
  readonly isUnderTest: boolean;
  /** Of the model's limit file; null where it is not known. */
  readonly retest: Pick<RetestRule, "afterFail" | "afterVoid"> | null;
}

/** What is allowed in which state: yes, or why not. A rework has conditions of its own, see `whyNoRework`. */
const RULES: Readonly<Record<UnitState["state"], Readonly<Record<Act, Rule>>>> = {
  good: { hold: "yes", release: "not held", rework: "by the rework rule", scrap: "hold it first" },
  failed: { hold: "yes", release: "not held", rework: "by the rework rule", scrap: "yes" },
  // One more reason is one more hold, which is lifted by itself.
  held: { hold: "yes", release: "yes", rework: "once a test", scrap: "yes" },
  in_doubt: { hold: "yes", release: "yes", rework: "by the rework rule", scrap: "yes" },
  reworked: { hold: "yes", release: "not held", rework: "by the rework rule", scrap: "yes" },
  void: { hold: "yes", release: "not held", rework: "by the rework rule", scrap: "yes" },
  scrapped: { hold: "scrapped", release: "scrapped", rework: "scrapped", scrap: "scrapped" },
  none: { hold: "no test", release: "no test", rework: "no test", scrap: "no test" },
};

type Rule =
  | "yes"
  | "by the rework rule"
  | "once a test"
  | "not held"
  | "hold it first"
  | "scrapped"
  | "no test";

/**
 * Whether this may be decided about a unit as it stands now. Scrap is final; a hold is possible at any time, also during a test.
 * @returns a sentence with what to do instead; null when it may
 * @example whyNot("release", passedUnit, { isUnderTest: false, retest: null })
 * // "Unit A1 is neither on hold nor in doubt: there is nothing to release."
 */
export function whyNot(act: Act, unit: DecidedUnit, { isUnderTest, retest }: DecidingOptions): string | null {
  const { serial, newest, state } = unit;
  const rule = RULES[state.state][act];
  if (isUnderTest && (act !== "hold" || rule === "no test")) return underTestText(serial);
  switch (rule) {
    case "yes":
      return null;
    case "by the rework rule":
      return whyNoRework(unit, retest);
    case "once a test":
      return unit.isReworked && newest
        ? `A rework of ${serial} is recorded already, after attempt ${newest.attempt}: it is tested once a supervisor has released it.`
        : null;
    case "not held":
      return `Unit ${serial} is neither on hold nor in doubt: there is nothing to release.`;
    case "hold it first":
      return `Unit ${serial} passed, and nothing was decided against it: put it on hold first, with the reason, so that no good unit is scrapped by a slip.`;
    case "scrapped":
      return `Unit ${serial} was scrapped, which is final: keep it off the line.`;
    case "no test":
      return noTestText(unit);
  }
}

function noTestText({ serial, attempts }: DecidedUnit): string {
  if (attempts.length === 0) {
    return `No attempt of ${serial} is recorded: check the serial, or give another --records folder.`;
  }
  return attempts.some(({ recordKind }) => recordKind === "reference")
    ? `${serial} is a reference piece, about which nothing is decided.`
    : `Unit ${serial} was tested on draft limits only, or for a study, which count for nothing: test it first.`;
}

/** Why nothing is decided about a unit now. */
function underTestText(serial: string): string {
  return `A test of ${serial} has begun and is not recorded yet: wait for its end, or start the station again if it was cut off.`;
}
