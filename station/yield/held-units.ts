import type { HeldUnitLine } from "./yield-report.ts";

/** How a unit stands, as `unitState` tells it. */
export interface UnitStandingNow {
  readonly serial: string;
  readonly model: string;
  readonly state: string;
  readonly since: string | null;
  /** Null for the station, and for somebody who gave no name. */
  readonly by: string | null;
  readonly reason: string | null;
}

/** @returns whether somebody holds the unit, or the station was not proven when it tested it */
export function isHeld({ state }: Pick<UnitStandingNow, "state">): boolean {
  return state === "held" || state === "in_doubt";
}

/**
 * Units that must not be shipped: held by somebody, or in doubt because the station was not proven when it tested them.
 * @returns those held longest first
 */
export function heldUnits(units: Iterable<UnitStandingNow>): readonly HeldUnitLine[] {
  const held: HeldUnitLine[] = [];
  for (const unit of units) {
    if (!isHeld(unit)) continue;
    const { serial, model, since, by, reason } = unit;
    held.push({ serial, model, since: since ?? "", by, reason: reason ?? "" });
  }
  return held.sort((a, b) => compared(a.since, b.since) || compared(a.serial, b.serial));
}

function compared(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}
