import { type Disposition, isReferenceHold } from "../records/disposition.ts";
import type { Decided } from "./unit-fate.ts";

/** What was decided about one unit, and by which records it stands so. */
export interface DecidedUnit extends Decided {
  /** Holds that nobody has lifted, oldest first. */
  readonly holds: readonly Disposition[];
  /** What repairs found. */
  readonly causes: readonly string[];
}

/**
 * @param serial the unit
 * @param dispositions those that name it, in the order of recording
 */
export function decidedOf(serial: string, dispositions: readonly Disposition[]): DecidedUnit {
  const holds: { readonly disposition: Disposition; readonly traveller: string }[] = [];
  const reworkedAfter: number[] = [];
  const causes = new Set<string>();
  let isScrapped = false;
  for (const disposition of dispositions) {
    for (const unit of disposition.units) {
      if (unit.serial !== serial) continue;
      const { kind } = disposition;
      if (kind === "hold") holds.push({ disposition, traveller: unit.traveller });
      else if (kind === "accept") {
        for (let k = holds.length - 1; k >= 0; k--) {
          if (holds[k]?.traveller === unit.traveller) holds.splice(k, 1);
        }
      } else if (kind === "scrap") isScrapped = true;
      else reworkedAfter.push(unit.attempt);
      if (disposition.rework) causes.add(disposition.rework.cause);
    }
  }
  return {
    untrusted: new Set(
      holds.filter(({ disposition }) => isReferenceHold(disposition)).map(({ traveller }) => traveller),
    ),
    isHeldByHand: holds.some(({ disposition }) => !isReferenceHold(disposition)),
    isScrapped,
    reworkedAfter: reworkedAfter.sort((a, b) => a - b),
    holds: holds.map(({ disposition }) => disposition),
    causes: [...causes],
  };
}
