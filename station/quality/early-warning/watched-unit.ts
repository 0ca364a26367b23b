/** A unit at its first valid test, as early warning looks at it. */
export interface WatchedUnit {
  readonly sequence: number;
  readonly serial: string;
  /** When its test began, ISO 8601. */
  readonly at: string;
  /** Tracked parts by the limit file's names. */
  readonly parts: Readonly<Record<string, string>>;
  readonly station: string;
  /** Of the limits that judged it. */
  readonly revision: number;
  /** Every characteristic that has a value; of one characteristic always in the same unit. */
  readonly values: readonly WatchedValue[];
}

export interface WatchedValue {
  readonly name: string;
  readonly unit: string;
  readonly value: number;
  /** Of a quantity whose sound values have a long tail, as leak rates have. */
  readonly hasLongTail?: boolean;
}

/** What a chart is about: all units of the model, or those from one cavity. */
export type Scope = { readonly part: string; readonly value: string } | null;

/** @returns the unit's cavities: tracked parts that the limit file calls so */
function cavitiesOf({ parts }: Pick<WatchedUnit, "parts">): NonNullable<Scope>[] {
  return Object.entries(parts).flatMap(([part, value]) =>
    part.toLowerCase().includes("cavity") ? [{ part, value }] : [],
  );
}

export function isWithin(scope: Scope, cavities: readonly NonNullable<Scope>[]): boolean {
  return scope === null || cavities.some(({ part, value }) => part === scope.part && value === scope.value);
}

const PLACED = new WeakMap<WatchedUnit, PlacedUnit>();

/** A unit with what its charts are found by, once for all of its characteristics. */
export interface PlacedUnit {
  readonly unit: WatchedUnit;
  readonly cavities: readonly NonNullable<Scope>[];
  /** Of the chart of all units, then of its cavities'. */
  readonly keys: readonly string[];
  /** Units of the same cavities have the same. */
  readonly cell: string;
}

/** @returns the same whenever it is asked for one unit: windows begin anew, and watch it again */
export function placed(unit: WatchedUnit): PlacedUnit {
  const before = PLACED.get(unit);
  if (before) return before;
  const cavities = cavitiesOf(unit);
  const keys = cavities.map(({ part, value }) => `${part}\u0000${value}`);
  const made = { unit, cavities, keys: ["", ...keys], cell: keys.join("\u0000") };
  PLACED.set(unit, made);
  return made;
}
