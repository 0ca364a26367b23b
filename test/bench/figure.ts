/** One line of a bench's answer. */
export interface Figure {
  readonly figure: string;
  readonly value: number;
  readonly unit: string;
  /** What it is measured against, with that one's own value. */
  readonly against: string;
  /** Value over what it is measured against, or the other way round where more is better; null without a comparison. */
  readonly ratio: number | null;
  readonly reach: number | null;
  readonly met: boolean | null;
}

/** Measures something and compares it; the method stands beside the code. */
export type Bench = () => Promise<readonly Figure[]>;

interface Compared {
  readonly figure: string;
  readonly value: number;
  readonly unit: string;
  readonly against: string;
  readonly ratio: number;
}

/** A figure whose ratio should be this or less. */
export function atMost(reach: number, compared: Compared): Figure {
  return { ...compared, reach, met: compared.ratio <= reach };
}

/** A figure whose ratio should be this or more. */
export function atLeast(reach: number, compared: Compared): Figure {
  return { ...compared, reach, met: compared.ratio >= reach };
}

/** A figure that explains another and has nothing to reach. */
export function aside(compared: Omit<Compared, "ratio"> & { readonly ratio?: number }): Figure {
  return { ratio: null, ...compared, reach: null, met: null };
}

/** @throws RangeError without values */
export function median(values: readonly number[]): number {
  return quantile(values, 0.5);
}

/** The value this part of all values lie below, by linear interpolation. @throws RangeError without values */
export function quantile(values: readonly number[], part: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  const place = part * (sorted.length - 1);
  const below = sorted[Math.floor(place)];
  const above = sorted[Math.ceil(place)];
  if (below === undefined || above === undefined) throw new RangeError("nothing was measured");
  return below + (above - below) * (place - Math.floor(place));
}
