// Exponentials of whole columns by a table and a short polynomial: a fit needs thousands of them, and one call of Math.exp
// takes as long as five entries here. Relative error below 1e-15.

/** Steps of the table per unit of the exponent; the polynomial takes 1/128 and less. */
const STEPS = 64;
/** The table goes from exp(-40) to exp(40), 40 kB of which one column touches little; Math.exp does the rest. */
const REACH = 40;

let table: Float64Array | undefined;

/** Writes exp(-rate t) for each t; the column may be longer, and keeps its other rows. */
export function fillDecay(t: ArrayLike<number>, rate: number, column: Float64Array): void {
  const powers = powersOfE();
  for (let i = 0; i < t.length; i++) {
    i = fillWithinReach(powers, t, rate, column, i);
    if (i < t.length) column[i] = Math.exp(-rate * (t[i] as number));
  }
}

/** As fillDecay, with the derivative with respect to -ln(rate), the logarithm of the time constant. */
export function fillDecayAndDerivative(
  t: ArrayLike<number>,
  rate: number,
  column: Float64Array,
  derivative: Float64Array,
): void {
  fillDecay(t, rate, column);
  for (let i = 0; i < t.length; i++) derivative[i] = (column[i] as number) * rate * (t[i] as number);
}

/** Goes on from a row until an exponent is out of the table's reach; returns that row, or the number of rows. */
function fillWithinReach(
  powers: Float64Array,
  t: ArrayLike<number>,
  rate: number,
  column: Float64Array,
  from: number,
): number {
  for (let i = from; i < t.length; i++) {
    const x = (t[i] as number) * rate;
    if (!(x < REACH && x > -REACH)) return i;
    const k = ((REACH + 0.5 / STEPS - x) * STEPS) | 0;
    const r = k / STEPS - REACH + x;
    const s = r * r;
    column[i] = (powers[k] as number) * (1 - (r - s * (1 / 2 - r * (1 / 6) + s * (1 / 24 - r * (1 / 120)))));
  }
  return t.length;
}

/** exp(k/64 - 40), made when first asked for. */
function powersOfE(): Float64Array {
  if (!table) {
    table = new Float64Array(2 * REACH * STEPS + 1);
    for (let k = 0; k < table.length; k++) table[k] = Math.exp(k / STEPS - REACH);
  }
  return table;
}
