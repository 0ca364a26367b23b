/** Arithmetic mean; NaN of nothing. @example mean([1, 2, 6]) // 3 */
export function mean(values: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += values[i] as number;
  return sum / values.length;
}
