/** As many equal readings in a row are not told from chance whatever the gauge. */
const SHORTEST = 20;
/** Chance that a living gauge shows such a run anywhere in the curve. */
const MOST_CHANCE = 1e-9;

/**
 * Whether a gauge stood still somewhere in these readings: a run of equal ones, longer than chance allows by how often
 * neighbours are equal in the rest. A coarse gauge on a quiet body repeats itself often, a fine one hardly ever.
 * @param readings in order of time, as the gauge gave them
 */
export function hasStoodStill(readings: ArrayLike<number>): boolean {
  const n = readings.length;
  let equal = 0;
  let run = 0;
  let longest = 0;
  for (let i = 1; i < n; i++) {
    run = readings[i] === readings[i - 1] ? run + 1 : 0;
    equal += Number(run > 0);
    longest = Math.max(longest, run);
  }
  if (longest + 1 < SHORTEST) return false;
  const others = n - 1 - longest;
  if (others < SHORTEST) return true;
  const chance = (equal - longest + 1) / (others + 2);
  return n * chance ** longest < MOST_CHANCE;
}
