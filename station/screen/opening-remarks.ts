import type { Disposition } from "../records/disposition.ts";
import type { Traveller } from "../records/traveller.ts";

/** What was found when the station was opened. */
export interface FoundAtOpening {
  readonly interrupted: readonly { readonly traveller: Pick<Traveller, "serial" | "attempt"> }[];
  readonly held: readonly Pick<Disposition, "reason">[];
  /** What could not be seen of whether the records are all there. */
  readonly unseen?: readonly string[];
}

/** @returns what somebody should know before they begin, in sentences */
export function openingRemarks({ interrupted, held, unseen = [] }: FoundAtOpening): readonly string[] {
  const units = interrupted.map(
    ({ traveller }) => `${traveller.serial} (attempt ${traveller.attempt.number})`,
  );
  return [
    ...(units.length === 0 ? [] : [`Interrupted before and now void: ${units.join(", ")}.`]),
    ...held.map(({ reason }) => reason.sentence),
    ...unseen,
  ];
}
