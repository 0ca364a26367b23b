/**
 * A unit as it stands at an axis: what it is referred to is the same for all of a chart, and said in its table.
 * @example shownUnit("mL/min @ 20 degC") // "mL/min"
 */
export function shownUnit(unit: string): string {
  return unit.split(" @ ")[0] ?? unit;
}
