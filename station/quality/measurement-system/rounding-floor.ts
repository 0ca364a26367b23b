/**
 * Differences up to here are made by writing decimal numbers in binary, and stand for none: 5.3 - 5.2 and 0.3 - 0.2 differ.
 * @example roundingFloor([6.01, 5.99]) // 2.1e-14
 */
export function roundingFloor(values: readonly number[]): number {
  return 16 * Number.EPSILON * values.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
}
