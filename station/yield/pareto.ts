import type { ParetoBar } from "./yield-report.ts";

/**
 * @param counts by name
 * @param of all that may have one of them: failed units, void tests
 * @returns the most frequent first, equally frequent ones by name
 * @example paretoOf(new Map([["flow", 2], ["leak rate", 3]]), 4)[0] // { name: "leak rate", count: 3, rate: 0.75, share: 0.6, cumulative: 0.6 }
 */
export function paretoOf(counts: ReadonlyMap<string, number>, of: number): ParetoBar[] {
  const all = [...counts.values()].reduce((sum, count) => sum + count, 0);
  let sum = 0;
  return [...counts]
    .filter(([, count]) => count > 0)
    .sort((a, b) => b[1] - a[1] || (a[0] < b[0] ? -1 : 1))
    .map(([name, count]) => {
      sum += count;
      return { name, count, rate: count / of, share: count / all, cumulative: sum / all };
    });
}

export function addTo(counts: Map<string, number>, name: string, count: number): void {
  counts.set(name, (counts.get(name) ?? 0) + count);
}
