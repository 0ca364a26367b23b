import { NoStudy } from "../study-report.ts";

/** Between which a characteristic must lie; one of them at least. */
export interface Specification {
  readonly lower?: number | undefined;
  readonly upper?: number | undefined;
}

/** @throws NoStudy without a limit, or with the lower not below the upper */
export function checkSpecification({ lower, upper }: Specification): void {
  if (lower === undefined && upper === undefined) {
    throw new NoStudy("Capability is held against limits: give --lower, --upper or both.");
  }
  if (lower !== undefined && upper !== undefined && !(lower < upper)) {
    throw new NoStudy(
      `The lower limit ${lower} is not below the upper limit ${upper}: give them the other way round.`,
    );
  }
}
