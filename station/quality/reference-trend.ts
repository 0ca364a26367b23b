/** One valid reading of a reference piece, in its certificate's unit. */
export interface ReferenceReading {
  readonly measured: number | null;
  readonly certified: number;
  readonly tolerance: number;
  readonly unit: string;
}

/** How a piece's readings go, in its certificate's unit. */
export interface ReferenceTrend {
  /** Of the readings, exponentially weighted: what the piece reads nowadays. */
  readonly ewma: number;
  readonly certified: number;
  readonly tolerance: number;
  readonly unit: string;
  /** A sentence for the quality engineer, before the piece fails; null while there is nothing to say. */
  readonly warning: string | null;
  /** The newest, oldest first, at most 30. */
  readonly readings: readonly number[];
}

export function referenceTrend(
  _serial: string,
  _readings: readonly ReferenceReading[],
): ReferenceTrend | null {
  throw new Error("to come");
}
