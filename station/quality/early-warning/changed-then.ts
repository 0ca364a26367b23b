import type { ChangedThen } from "./early-warning.ts";

/** A unit with what is recorded of the circumstances of its test, by name: tracked parts, limit revision, shift, gauges, inspector. */
export interface UnitInContext {
  readonly serial: string;
  readonly at: string;
  readonly context: Readonly<Record<string, string>>;
}

/** A change this far from the first suspect may have to do with it: that far such estimates are out. */
const NEAR = 12;
/** Units before and after a change that must be alike. */
const [BEFORE, AFTER] = [60, 30];
/** So many units before the first suspect, and from it on, are looked at. */
export const [LOOKED_BACK, LOOKED_ON] = [NEAR + BEFORE, NEAR + AFTER + 1];
/** So many units with it at least: the newest unit's own motor number is new, too. */
const LEAST_NEW = 3;
/** Part of the units after that must have what the units before had not. */
const NEW_PART = 0.8;
const OLD_PART = 0.2;

/**
 * What is another thing from about a certain unit on. A number that every unit has of its own never is.
 * @param units in the order of their tests
 * @param first place of the first suspect
 * @returns the nearest change of each thing that changed, the nearest first
 * @example a lot that is G2411 up to unit 99 and G2412 from unit 100 on, first suspect at 102: from "G2411", to "G2412", offset -2
 */
export function changedThen(units: readonly UnitInContext[], first: number): ChangedThen[] {
  const names = new Set(
    units.slice(Math.max(0, first - NEAR)).flatMap(({ context }) => Object.keys(context)),
  );
  return [...names]
    .flatMap((name) => nearestChange(units, first, name) ?? [])
    .sort((a, b) => Math.abs(a.offset) - Math.abs(b.offset));
}

function nearestChange(units: readonly UnitInContext[], first: number, what: string): ChangedThen | null {
  let nearest: ChangedThen | null = null;
  for (let at = Math.max(1, first - NEAR); at <= first + NEAR && at < units.length; at++) {
    const [unit, before] = [units[at], units[at - 1]];
    const to = unit?.context[what];
    if (!unit || to === undefined || before?.context[what] === to) continue;
    const old = units.slice(Math.max(0, at - BEFORE), at).map(({ context }) => context[what]);
    const later = units.slice(at, at + AFTER).map(({ context }) => context[what]);
    if (later.filter((it) => it === to).length < LEAST_NEW) continue;
    if (partOf(later, to) < NEW_PART || partOf(old, to) > OLD_PART) continue;
    const from = mostFrequent(old);
    if (from === undefined) continue;
    const offset = at - first;
    if (nearest === null || Math.abs(offset) < Math.abs(nearest.offset))
      nearest = { what, from, to, serial: unit.serial, at: unit.at, offset };
  }
  return nearest;
}

function partOf(values: readonly (string | undefined)[], value: string): number {
  return values.filter((it) => it === value).length / values.length;
}

function mostFrequent(values: readonly (string | undefined)[]): string | undefined {
  const counts = new Map<string, number>();
  for (const value of values) if (value !== undefined) counts.set(value, (counts.get(value) ?? 0) + 1);
  return [...counts].sort((a, b) => b[1] - a[1])[0]?.[0];
}
