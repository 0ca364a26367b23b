import type { DisposedUnit, Disposition } from "./disposition.ts";
import type { AttemptSummary } from "./index-db.ts";

/** What holds take away from travellers and units. */
export interface Doubts {
  /** By SHA-256: held by the station, not released, and the unit has no newer valid attempt: nobody may count it as passed. */
  readonly inDoubt: ReadonlySet<string>;
  /** By SHA-256: held by the station and never released, whatever came after: evidence of nothing. Holds everything of `inDoubt`. */
  readonly untrusted: ReadonlySet<string>;
  /** First valid attempts of units whose earlier ones are all untrusted: their first inspection, though called a retest. */
  readonly firstInspections: ReadonlySet<string>;
  /** Serials that somebody holds, with the newest traveller that such a hold names; not those that were scrapped. */
  readonly heldByHand: ReadonlyMap<string, string>;
  /** Serials. */
  readonly scrapped: ReadonlySet<string>;
}

/** A unit's traveller that is held, and the holds that nobody has lifted, oldest first. */
export interface HeldUnit extends DisposedUnit {
  readonly holds: readonly Disposition[];
}

/** A unit held by the station that was not tested again. */
export interface UnitInDoubt extends HeldUnit {
  readonly model: string;
  /** Of the test that is in doubt. */
  readonly verdict: AttemptSummary["verdict"];
  /** Scrapped since: still not counted, but nobody has to deal with it any more. */
  readonly isScrapped: boolean;
}

export const NO_DOUBTS: Doubts = {
  inDoubt: new Set(),
  untrusted: new Set(),
  firstInspections: new Set(),
  heldByHand: new Map(),
  scrapped: new Set(),
};

/**
 * What dispositions hold. Two kinds of hold mean two things: the station's, after a failed reference check, takes the trust from
 * a measurement, and a later valid test makes up for it; somebody's is about the unit, whose measurements stay trusted, and it
 * stands whatever is measured later.
 */
export interface Held {
  /** By SHA-256 of the traveller, in the order in which they were first held by the station. */
  readonly untrusted: ReadonlyMap<string, HeldUnit>;
  /** By SHA-256 of the traveller that a hold of somebody's names, in the order in which they were first held so. */
  readonly byHand: ReadonlyMap<string, HeldUnit>;
  /** Serials. */
  readonly scrapped: ReadonlySet<string>;
}

type HeldMap = Map<string, HeldUnit & { readonly holds: Disposition[] }>;

/** `Held`, while one disposition after the other is followed. */
export interface HeldSoFar {
  readonly untrusted: HeldMap;
  readonly byHand: HeldMap;
  readonly scrapped: Set<string>;
}

export function nothingHeld(): HeldSoFar {
  return { untrusted: new Map(), byHand: new Map(), scrapped: new Set() };
}

/**
 * What a list of dispositions holds, see `followHolds`.
 * @param dispositions in the order of recording
 */
export function heldTravellers(dispositions: readonly Disposition[]): Held {
  const held = nothingHeld();
  for (const disposition of dispositions) followHolds(held, disposition);
  return held;
}

/**
 * Follows holds, acceptances and scrap. An acceptance lifts, on the travellers it names, the holds whose numbers it gives, or every
 * hold made before it where it gives none; a later hold stands until it is lifted in turn.
 * @param held changed, in the time that the disposition's own units take
 * @param disposition the next in the order of recording
 */
export function followHolds(held: HeldSoFar, disposition: Disposition): void {
  const { kind } = disposition;
  for (const { serial, attempt, traveller } of disposition.units) {
    if (kind === "hold") {
      const kindOfHold = disposition.reference === undefined ? held.byHand : held.untrusted;
      const known = kindOfHold.get(traveller);
      if (known) known.holds.push(disposition);
      else kindOfHold.set(traveller, { serial, attempt, traveller, holds: [disposition] });
    } else if (kind === "accept") {
      lift(held.untrusted, traveller, disposition.lifts);
      lift(held.byHand, traveller, disposition.lifts);
    } else if (kind === "scrap") held.scrapped.add(serial);
  }
}

function lift(held: HeldMap, traveller: string, lifts: Disposition["lifts"]): void {
  const known = held.get(traveller);
  if (!known) return;
  const left = lifts ? known.holds.filter(({ chain }) => !lifts.includes(chain.sequence)) : [];
  if (left.length === 0) held.delete(traveller);
  else held.set(traveller, { ...known, holds: left });
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

/** @param historyOf every attempt of a unit whose test the station holds */
export function doubtsOf(
  { untrusted, byHand, scrapped }: Held,
  historyOf: (serial: string) => readonly Tested[],
): Doubts {
  const inDoubt = new Set<string>();
  const firstInspections = new Set<string>();
  for (const { serial, attempt, traveller } of untrusted.values()) {
    const valid = historyOf(serial)
      .filter((it) => counts(it) && it.verdict !== "void")
      .sort((a, b) => a.attempt - b.attempt);
    if (!isSuperseded(attempt, valid)) inDoubt.add(traveller);
    const first = valid.find(({ sha256 }) => !untrusted.has(sha256));
    if (first && first !== valid[0]) firstInspections.add(first.sha256);
  }
  const heldByHand = new Map<string, string>();
  for (const { serial, traveller } of byHand.values()) {
    if (!scrapped.has(serial)) heldByHand.set(serial, traveller);
  }
  return { inDoubt, untrusted: new Set(untrusted.keys()), firstInspections, heldByHand, scrapped };
}
