/** One measured ratio. `reach` is the design's goal; `met` says whether this run reached it. */
export interface Figure {
  readonly bench: string;
  readonly figure: string;
  readonly value: number;
  readonly unit: string;
  readonly against: string;
  readonly ratio: number;
  readonly reach: string;
  readonly met: boolean;
}

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted[Math.floor(sorted.length / 2)];
  if (middle === undefined) throw new RangeError("A median needs at least one value.");
  return middle;
}
