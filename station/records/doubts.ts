import type { DisposedUnit, Disposition } from "./disposition.ts";
import type { AttemptSummary } from "./index-db.ts";

/** What holds take away from travellers, by the SHA-256 of each. */
export interface Doubts {
  /** Held, not released, and the unit has no newer valid attempt: nobody may count it as passed. */
  readonly inDoubt: ReadonlySet<string>;
  /** Held and never released, whatever came after: evidence of nothing. Holds everything of `inDoubt`. */
  readonly untrusted: ReadonlySet<string>;
  /** First valid attempts of units whose earlier ones are all untrusted: their first inspection, though called a retest. */
  readonly firstInspections: ReadonlySet<string>;
}

/** A unit's traveller that is held, and the holds that nobody has lifted, oldest first. */
export interface HeldUnit extends DisposedUnit {
  readonly holds: readonly Disposition[];
  /** Scrapped since: still not counted, but nobody has to deal with it any more. */
  readonly isScrapped: boolean;
}

/** A held unit that was not tested again. */
export interface UnitInDoubt extends HeldUnit {
  readonly model: string;
  /** Of the test that is in doubt. */
  readonly verdict: AttemptSummary["verdict"];
}

export const NO_DOUBTS: Doubts = {
  inDoubt: new Set(),
  untrusted: new Set(),
  firstInspections: new Set(),
};

/** What is held so far, while one disposition after the other is followed. */
export type HeldSoFar = Map<string, HeldUnit & { readonly holds: Disposition[] }>;

/**
 * What a list of dispositions holds, see `followHolds`.
 * @param dispositions in the order of recording
 * @returns by SHA-256 of the traveller, in the order in which they were first held
 */
export function heldTravellers(dispositions: readonly Disposition[]): ReadonlyMap<string, HeldUnit> {
  const held: HeldSoFar = new Map();
  for (const disposition of dispositions) followHolds(held, disposition);
  return held;
}

/**
 * Follows holds and acceptances. An acceptance lifts every hold made before it on the traveller it names, and no other: a
 * later hold, by another failed check, stands until it is lifted in turn.
 * @param held changed, in the time that the disposition's own units take
 * @param disposition the next in the order of recording
 */
export function followHolds(held: HeldSoFar, disposition: Disposition): void {
  for (const { serial, attempt, traveller } of disposition.units) {
    const known = held.get(traveller);
    if (disposition.kind === "hold" && known) known.holds.push(disposition);
    else if (disposition.kind === "hold") {
      held.set(traveller, { serial, attempt, traveller, holds: [disposition], isScrapped: false });
    } else if (disposition.kind === "accept") held.delete(traveller);
    else if (disposition.kind === "scrap" && known) held.set(traveller, { ...known, isScrapped: true });
  }
}

type Tested = Pick<AttemptSummary, "recordKind" | "draft" | "verdict" | "attempt" | "sha256">;

/** Of a unit, not a reference piece, and on approved limits. */
export function counts({ recordKind, draft }: Pick<Tested, "recordKind" | "draft">): boolean {
  return recordKind === "unit" && !draft;
}

/** @returns whether the unit has a valid attempt that counts after this one */
export function isSuperseded(attempt: number, history: readonly Tested[]): boolean {
  return history.some((it) => counts(it) && it.verdict !== "void" && it.attempt > attempt);
}

/** @param historyOf every attempt of a unit that something is held of */
export function doubtsOf(
  held: ReadonlyMap<string, HeldUnit>,
  historyOf: (serial: string) => readonly Tested[],
): Doubts {
  const inDoubt = new Set<string>();
  const firstInspections = new Set<string>();
  for (const { serial, attempt, traveller } of held.values()) {
    const valid = historyOf(serial)
      .filter((it) => counts(it) && it.verdict !== "void")
      .sort((a, b) => a.attempt - b.attempt);
    if (!isSuperseded(attempt, valid)) inDoubt.add(traveller);
    const first = valid.find(({ sha256 }) => !held.has(sha256));
    if (first && first !== valid[0]) firstInspections.add(first.sha256);
  }
  return { inDoubt, untrusted: new Set(held.keys()), firstInspections };
}
