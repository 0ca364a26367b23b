/** How far two ways of rating agree beyond chance. */
export interface Kappa {
  /** Share of pairs that agree. */
  readonly po: number;
  /** Share that would by chance. */
  readonly pe: number;
  /** (po - pe) / (1 - pe); null where all ratings are the same, so that agreement proves nothing. */
  readonly kappa: number | null;
}

/** Nearer to 1 than this, chance alone agrees always. */
const CERTAIN = 1e-12;

/**
 * Cohen's kappa of a square cross table, both ways with the same categories in the same order.
 * @throws RangeError for an empty table
 * @see Cohen, Educational and Psychological Measurement 20 (1960) 37-46
 * @example cohenKappa([[20, 5], [10, 15]]) // po 0.7, pe 0.5, kappa 0.4
 */
export function cohenKappa(table: readonly (readonly number[])[]): Kappa {
  const rows = table.map(sum);
  const columns = table.map((_, j) => sum(table.map((row) => row[j] ?? 0)));
  const n = sum(rows);
  if (!(n > 0)) throw new RangeError("Kappa needs ratings.");
  const po = sum(table.map((row, i) => row[i] ?? 0)) / n;
  const pe = sum(rows.map((row, i) => (row / n) * ((columns[i] ?? 0) / n)));
  return of(po, pe);
}

/**
 * Fleiss' kappa of units that were rated equally often.
 * @param counts ratings in each category, by unit; the same sum of two or more for each
 * @throws RangeError without units, or where they were rated once or not equally often
 * @see Fleiss, Psychological Bulletin 76 (1971) 378-382
 * @example fleissKappa([[3, 0], [2, 1], [0, 3]]).kappa // 0.55
 */
export function fleissKappa(counts: readonly (readonly number[])[]): Kappa {
  const m = sum(counts[0] ?? []);
  if (m < 2 || counts.some((unit) => sum(unit) !== m))
    throw new RangeError("Fleiss' kappa needs units rated equally often, twice or more.");
  const all = m * counts.length;
  const agreeing = counts.map((unit) => (sum(unit.map((count) => count * count)) - m) / (m * (m - 1)));
  const shares = (counts[0] ?? []).map((_, j) => sum(counts.map((unit) => unit[j] ?? 0)) / all);
  return of(sum(agreeing) / counts.length, sum(shares.map((share) => share * share)));
}

function of(po: number, pe: number): Kappa {
  return { po, pe, kappa: 1 - pe > CERTAIN ? (po - pe) / (1 - pe) : null };
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}
