/** What an EWMA chart is drawn by. */
export interface EwmaSettings {
  /** Weight of the newest value, above 0 and at most 1; 0.2 to 0.3 is usual. */
  readonly lambda: number;
  /** Where the process stood when it was known to be in order: the chart's centre, and its value before the first. */
  readonly start: number;
}

/**
 * Exponentially weighted moving averages: each is lambda times its value and the rest the average before.
 * @throws RangeError for a lambda outside 0 to 1
 * @example ewma([52, 47, 53], { lambda: 0.3, start: 50 }) // 50.6, 49.52, 50.564
 * @see NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4
 */
export function ewma(values: readonly number[], settings: EwmaSettings): number[] {
  const { lambda, start } = checked(settings);
  let average = start;
  return values.map((value) => {
    average += lambda * (value - average);
    return average;
  });
}

/**
 * Part of a single value's variance that the average of so many has: lambda / (2 - lambda) in the long run, less before.
 * @param count values so far; infinity for the long run
 * @example 50 + 3 * 2.0539 * Math.sqrt(ewmaVariance(0.3)) // 52.588, the upper control limit
 * @see NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4; for the first values Lucas and Saccucci 1990, equation 1
 * (from memory)
 */
export function ewmaVariance(lambda: number, count = Number.POSITIVE_INFINITY): number {
  checked({ lambda, start: 0 });
  return (lambda / (2 - lambda)) * (1 - (1 - lambda) ** (2 * count));
}

function checked(settings: EwmaSettings): EwmaSettings {
  if (!(settings.lambda > 0 && settings.lambda <= 1)) {
    throw new RangeError(`An average with a weight of ${settings.lambda} can't be drawn.`);
  }
  return settings;
}
