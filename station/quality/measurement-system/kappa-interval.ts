import { normalQuantile } from "../../../limits/normal.ts";
import { cohenKappa, fleissKappa, type Kappa } from "./kappa.ts";
import type { Interval } from "./mls-interval.ts";

/** A kappa with how well so many units tell it. */
export interface KappaWithInterval extends Kappa {
  /** Both null without a kappa, and where the ratings show no scatter to tell it by, as in perfect agreement. */
  readonly standardError: number | null;
  readonly CI95: Interval | null;
}

const CONFIDENCE = 0.95;
/** Nearer to zero than this, a standard error is made of rounding. */
const NO_SCATTER = 1e-9;

/**
 * Cohen's kappa of decisions, with its large-sample interval. Decisions on one unit count as one, for they resemble each other;
 * with one decision on each unit the standard error is that of Fleiss, Cohen and Everitt.
 * @param tables cross table of each unit, the same categories in the same order both ways
 * @throws RangeError without a decision
 * @see Fleiss, Cohen and Everitt, Psychological Bulletin 72 (1969) 323-327 (by the delta method; from memory)
 * @example cohenKappaOfUnits of 20 units [[1, 0], [0, 0]], 5 [[0, 1], [0, 0]], 10 [[0, 0], [1, 0]], 15 [[0, 0], [0, 1]]
 * // kappa 0.4, standard error 0.1270, 0.151 to 0.649
 */
export function cohenKappaOfUnits(tables: readonly (readonly (readonly number[])[])[]): KappaWithInterval {
  const total = sumOfTables(tables);
  const found = cohenKappa(total);
  const { po, pe, kappa } = found;
  if (kappa === null) return { ...found, standardError: null, CI95: null };
  const rows = total.map(sum);
  const columns = total.map((_, j) => sum(total.map((row) => row[j] ?? 0)));
  const n = sum(rows);
  /** What one decision more of that kind would change, n-fold. */
  const influence = (i: number, j: number) =>
    ((i === j ? 1 : 0) - po) / (1 - pe) -
    ((1 - po) * (((columns[i] ?? 0) + (rows[j] ?? 0)) / n - 2 * pe)) / (1 - pe) ** 2;
  const squares = tables.map(
    (table) => sum(table.flatMap((row, i) => row.map((count, j) => count * influence(i, j)))) ** 2,
  );
  return around(found, kappa, Math.sqrt(sum(squares)) / n);
}

/**
 * Fleiss' kappa with its large-sample interval, whatever the agreement. (Fleiss' own standard error of 1971 holds for a kappa of
 * zero only.)
 * @param counts ratings in each category, by unit; the same sum of two or more for each
 * @throws RangeError without units, or where they were rated once or not equally often
 * @see Gwet, Educational and Psychological Measurement 81 (2021) 781-790 (from memory; held to by leaving units out one by one)
 * @example fleissKappaOfUnits([[3, 0], [2, 1], [0, 3]]) // kappa 0.55, standard error 0.4649
 */
export function fleissKappaOfUnits(counts: readonly (readonly number[])[]): KappaWithInterval {
  const found = fleissKappa(counts);
  const { pe, kappa } = found;
  const units = counts.length;
  if (kappa === null || units < 2) return { ...found, standardError: null, CI95: null };
  const m = sum(counts[0] ?? []);
  const shares = (counts[0] ?? []).map((_, j) => sum(counts.map((unit) => unit[j] ?? 0)) / (m * units));
  const squares = counts.map((unit) => {
    const agreeing = (sum(unit.map((count) => count * count)) - m) / (m * (m - 1));
    const byChance = sum(unit.map((count, j) => (count / m) * (shares[j] ?? 0)));
    const own = (agreeing - pe) / (1 - pe) - (2 * (1 - kappa) * (byChance - pe)) / (1 - pe);
    return (own - kappa) ** 2;
  });
  return around(found, kappa, Math.sqrt(sum(squares) / (units * (units - 1))));
}

function around(found: Kappa, kappa: number, standardError: number): KappaWithInterval {
  if (!(standardError > NO_SCATTER)) return { ...found, standardError: null, CI95: null };
  const reach = normalQuantile((1 + CONFIDENCE) / 2) * standardError;
  const CI95 = { lower: Math.max(-1, kappa - reach), upper: Math.min(1, kappa + reach) };
  return { ...found, standardError, CI95 };
}

function sumOfTables(tables: readonly (readonly (readonly number[])[])[]): number[][] {
  const [first = []] = tables;
  const total = first.map((row) => row.map(() => 0));
  for (const table of tables) {
    for (const [i, row] of table.entries()) {
      const sums = total[i] ?? [];
      for (const [j, count] of row.entries()) sums[j] = (sums[j] ?? 0) + count;
    }
  }
  return total;
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}
