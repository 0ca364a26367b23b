/** A reading this many standard deviations from where its neighbours are is no noise. */
const WILD_DEVIATIONS = 8;
/** At an end, the neighbours' trend may be off by this part of it: sampling is uneven, and the curve bends. */
const TREND_TOLERANCE = 4;

/**
 * Places of readings that stand alone far from their neighbours, as after a bit error or a spark: further than eight
 * standard deviations from the median of the five around them. A steep but steady curve has none. The first two and the
 * last two are held against the median of the five at that end, carried on by their median trend.
 * @param spread standard deviation of the noise, in the readings' unit
 * @see Hampel filter; Pearson, Mining Imperfect Data, ch. 4 (from memory)
 */
export function isolatedWildReadings(readings: ArrayLike<number>, spread: number): Set<number> {
  const wild = new Set<number>();
  const most = WILD_DEVIATIONS * spread;
  const n = readings.length;
  if (n < 5) return wild;
  for (let i = 2; i < n - 2; i++) {
    const value = readings[i] as number;
    const before = readings[i - 1] as number;
    const after = readings[i + 1] as number;
    // With both neighbours near, three of the five are, and so is the median.
    if (Math.abs(value - before) <= most && Math.abs(value - after) <= most) continue;
    const median = medianOfFive(readings[i - 2] as number, before, value, after, readings[i + 2] as number);
    if (!(Math.abs(value - median) <= most)) wild.add(i);
  }
  for (const [end, inward] of [
    [0, 1],
    [n - 1, -1],
  ] as const) {
    for (const step of wildAtEnd((k) => readings[end + inward * k] as number, most))
      wild.add(end + inward * step);
  }
  return wild;
}

/** Normal quantile at 3/4: a normal deviation is the median distance over this. */
const MEDIAN_OF_NORMAL = 0.6745;

/**
 * Standard deviation of the noise from reading to reading, by the median step about the median step: trend and wild readings
 * hardly touch it. At least half of the finest step shown, as a coarse gauge may hide its noise.
 * @param readings three or more, in order of time
 */
export function noiseOf(readings: ArrayLike<number>): number {
  const steps = Array.from(
    { length: readings.length - 1 },
    (_, i) => (readings[i + 1] as number) - (readings[i] as number),
  );
  const trend = medianOf(steps);
  const spread = medianOf(steps.map((step) => Math.abs(step - trend))) / (MEDIAN_OF_NORMAL * Math.SQRT2);
  const finest = steps.reduce(
    (least, step) => (step === 0 ? least : Math.min(least, Math.abs(step))),
    Number.POSITIVE_INFINITY,
  );
  return Math.max(spread, Number.isFinite(finest) ? finest / 2 : 0);
}

function medianOf(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] ?? Number.NaN;
}

/** Which of the first two of five readings are wild; counted from the end inwards. */
function wildAtEnd(reading: (k: number) => number, most: number): number[] {
  const steps = [0, 1, 2, 3].map((k) => reading(k + 1) - reading(k)).sort((a, b) => a - b);
  // One wild reading spoils two steps at most, in opposite directions.
  const trend = ((steps[1] as number) + (steps[2] as number)) / 2;
  const level = (k: number) => reading(k) - k * trend;
  const median = medianOfFive(level(0), level(1), level(2), level(3), level(4));
  return [0, 1].filter((k) => !(Math.abs(level(k) - median) <= most + TREND_TOLERANCE * Math.abs(trend)));
}

function medianOfFive(a: number, b: number, c: number, d: number, e: number): number {
  // The median of five is the median of e, the larger of the two pair minima, and the smaller of the two pair maxima.
  const low = Math.max(Math.min(a, b), Math.min(c, d));
  const high = Math.min(Math.max(a, b), Math.max(c, d));
  return Math.max(Math.min(low, high), Math.min(Math.max(low, high), e));
}
