import type { Disposition } from "./disposition.ts";
import { heldTravellers } from "./doubts.ts";

/** Why a unit is neither tested nor sent on, whatever was measured. */
export interface DecidedAgainst {
  readonly code: "HELD" | "SCRAPPED";
  readonly sentence: string;
}

/**
 * @param dispositions those that name the unit, in the order of recording
 * @returns null where nobody holds it and it was not scrapped
 * @example decidedAgainst("A1", [held])?.sentence
 * // "Unit A1 was put on hold by S. Ode (dented): put it aside until a supervisor has released it."
 */
export function decidedAgainst(serial: string, dispositions: readonly Disposition[]): DecidedAgainst | null {
  const { byHand, scrapped } = heldTravellers(dispositions);
  if (scrapped.has(serial)) return scrappedUnit(serial);
  const newest = [...byHand.values()]
    .filter((unit) => unit.serial === serial)
    .flatMap(({ holds }) => holds)
    .sort((a, b) => a.chain.sequence - b.chain.sequence)
    .at(-1);
  return newest ? heldUnit(serial, newest) : null;
}

function scrappedUnit(serial: string): DecidedAgainst {
  return { code: "SCRAPPED", sentence: `Unit ${serial} was scrapped: take it off the line.` };
}

function heldUnit(serial: string, hold: Disposition): DecidedAgainst {
  const by = hold.by.name === null ? "" : ` by ${hold.by.name}`;
  return {
    code: "HELD",
    sentence: `Unit ${serial} was put on hold${by} (${hold.reason.sentence.replace(/\.$/, "")}): put it aside until a supervisor has released it.`,
  };
}
