/** A reading this many standard deviations from the median of its neighbours is no noise. */
const WILD_DEVIATIONS = 8;

/**
 * Places of readings that stand alone far from their neighbours, as after a bit error or a spark: further than eight
 * standard deviations from the median of the five around them. A steep but steady curve has none.
 * @param spread standard deviation of the noise, in the readings' unit
 * @see Hampel filter; Pearson, Mining Imperfect Data, ch. 4 (from memory)
 */
export function isolatedWildReadings(readings: ArrayLike<number>, spread: number): Set<number> {
  const wild = new Set<number>();
  const most = WILD_DEVIATIONS * spread;
  for (let i = 2; i < readings.length - 2; i++) {
    const value = readings[i] as number;
    const before = readings[i - 1] as number;
    const after = readings[i + 1] as number;
    // With both neighbours near, three of the five are, and so is the median.
    if (Math.abs(value - before) <= most && Math.abs(value - after) <= most) continue;
    const median = medianOfFive(readings[i - 2] as number, before, value, after, readings[i + 2] as number);
    if (Math.abs(value - median) > most) wild.add(i);
  }
  return wild;
}

function medianOfFive(a: number, b: number, c: number, d: number, e: number): number {
  // The median of five is the median of e, the larger of the two pair minima, and the smaller of the two pair maxima.
  const low = Math.max(Math.min(a, b), Math.min(c, d));
  const high = Math.min(Math.max(a, b), Math.max(c, d));
  return Math.max(Math.min(low, high), Math.min(Math.max(low, high), e));
}
