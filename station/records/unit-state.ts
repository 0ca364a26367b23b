import type { Disposition } from "./disposition.ts";
import { counts, heldTravellers } from "./doubts.ts";
import type { AttemptSummary } from "./index-db.ts";

/** How a unit stands, in one word, since when, and who or what says so. */
export interface UnitState {
  /**
   * Only a unit that is good may be sent on. good: its newest valid test passed and nothing was decided against it. failed: that test failed. held: somebody holds it,
   * whatever was measured. in_doubt: that test is held by the station, which was not proven. scrapped: for good. reworked, and not
   * tested again since. void: no valid test. none: no test that counts.
   */
  readonly state: "good" | "failed" | "held" | "in_doubt" | "scrapped" | "reworked" | "void" | "none";
  /** When that was decided, or the test that says so ended; null where nobody saw that end, or there is nothing. */
  readonly since: string | null;
  /** Who decided; null for the station, for somebody who gave no name, and for tests. */
  readonly by: string | null;
  /** Of a decision its reason, of a fail what it failed by, of a void its codes. */
  readonly reason: string | null;
  /** Of the test that was decided on, or that says so. */
  readonly attempt: number | null;
  /** Of a unit on hold: how many holds besides this one keep it, each to be lifted by itself; else 0. */
  readonly other_holds: number;
}

type Tested = Pick<
  AttemptSummary,
  "sha256" | "recordKind" | "draft" | "verdict" | "attempt" | "started_at" | "ended_at" | "codes" | "causes"
>;

export interface StandingUnit {
  readonly serial: string;
  /** All of the unit's, in any order; references and drafts are passed over. */
  readonly attempts: readonly Tested[];
  /** Those that name the unit, in the order of recording; other units in them are passed over. */
  readonly dispositions: readonly Disposition[];
}

/**
 * How a unit stands now, by everything that was recorded of it. What speaks against a unit goes before what speaks for it: scrap, then
 * somebody's hold, a doubt, a rework, and only then the newest valid test.
 * @example unitState({ serial: "A1", attempts: [passed], dispositions: [] }).state // "good"
 */
export function unitState({ serial, attempts, dispositions }: StandingUnit): UnitState {
  const counted = attempts.filter(counts).sort((a, b) => a.attempt - b.attempt);
  const own = (it: Disposition) => it.units.filter((unit) => unit.serial === serial);
  const decidedOn = (state: UnitState["state"], it: Disposition, attempt = own(it)[0]?.attempt) => ({
    state,
    since: it.at,
    by: it.by.name,
    reason: it.reason.sentence,
    attempt: attempt ?? null,
    other_holds: 0,
  });
  const newestOf = (kind: Disposition["kind"]) =>
    dispositions.findLast((it) => it.kind === kind && own(it).length > 0);
  const scrap = newestOf("scrap");
  if (scrap) return decidedOn("scrapped", scrap);
  const held = heldTravellers(dispositions);
  const byHand = [...held.byHand.values()]
    .filter((unit) => unit.serial === serial)
    .flatMap(({ holds }) => holds)
    .sort((a, b) => a.chain.sequence - b.chain.sequence);
  const newestHold = byHand.at(-1);
  const valid = counted.findLast(({ verdict }) => verdict !== "void");
  const doubt = valid && held.untrusted.get(valid.sha256)?.holds.at(-1);
  if (newestHold) {
    return { ...decidedOn("held", newestHold), other_holds: byHand.length - 1 + (doubt ? 1 : 0) };
  }
  if (doubt) return decidedOn("in_doubt", doubt, valid.attempt);
  const rework = newestOf("rework");
  const reworked = Math.max(0, ...(rework ? own(rework).map(({ attempt }) => attempt) : []));
  if (rework && (valid?.attempt ?? 0) <= reworked) return decidedOn("reworked", rework, reworked);
  const newest = valid ?? counted.at(-1);
  if (!newest) {
    return {
      state: "none",
      since: null,
      by: null,
      reason: whyNone(attempts),
      attempt: null,
      other_holds: 0,
    };
  }
  const { verdict, ended_at, attempt, causes, codes } = newest;
  const reasons = causes.length > 0 ? causes : codes;
  return {
    state: verdict === "pass" ? "good" : verdict === "fail" ? "failed" : "void",
    since: ended_at,
    by: null,
    reason: verdict === "pass" ? null : reasons.join(", "),
    attempt,
    other_holds: 0,
  };
}

/** How a unit stands of which not every record is there as it was recorded: what is missing might be the fail that nobody is to see. */
export function lackingRecords(state: UnitState): UnitState {
  return state.state === "good" ? inDoubt(state, NOT_ALL_THERE) : state;
}

export const NOT_ALL_THERE = "not all of its records are there as they were recorded";

export function inDoubt(state: UnitState, reason: string): UnitState {
  return { ...state, state: "in_doubt", since: null, by: null, reason };
}

function whyNone(attempts: readonly Tested[]): string | null {
  if (attempts.length === 0) return null;
  const isPiece = attempts.some(({ recordKind }) => recordKind === "reference");
  return isPiece ? "reference piece" : "measured on draft limits or for a study only";
}
