import type { UnitStanding } from "../records/dispositions.ts";

/**
 * How a unit stands after a release: a hold that is lifted says nothing of what else was found.
 * @example "POD000123: released, counts as pass"
 */
export function releasedText({ serial, state }: Pick<UnitStanding, "serial" | "state">): string {
  switch (state.state) {
    case "good":
      return `${serial}: released, counts as pass`;
    case "failed":
      return `${serial}: released, counts as fail`;
    case "held":
      return `${serial}: this hold is lifted, and it is still on hold: ${state.reason}`;
    case "in_doubt":
      return `${serial}: this hold is lifted, and it is still in doubt: ${state.reason}`;
    case "reworked":
      return `${serial}: released, and to be tested after its rework`;
    case "scrapped":
      return `${serial}: scrapped meanwhile, for good`;
    case "void":
    case "none":
      return `${serial}: released, and without a valid test: test it again`;
  }
}
