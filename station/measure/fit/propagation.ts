import { type BudgetLine, budgetOf, combinedUncertainty } from "./uncertainty.ts";

/** What a calculation starts from: its best estimate and standard uncertainty, independent of the other inputs. */
export interface UncertainInput {
  readonly component: string;
  readonly estimate: number;
  readonly uncertainty: number;
  readonly unit: string;
}

/** A result with its combined standard uncertainty, and the inputs that have a part in it. */
export interface Measured {
  readonly value: number;
  readonly uncertainty: number;
  readonly budget: readonly BudgetLine[];
}

/** An input with a smaller part of the variance than this is left out of the budget: mostly the arithmetic's own noise. */
const LEAST_SHARE = 1e-6;

/** Results at the estimates, and how each follows each input. */
export interface Sensitivities {
  readonly values: readonly number[];
  /** By result, then by input. */
  readonly slopes: readonly (readonly number[])[];
}

/**
 * Slopes of a calculation's results over the reach of each input's uncertainty: the calculation is done once with the
 * estimates, and twice for each input, one standard uncertainty above and below. An input that is known exactly costs
 * nothing and has no slope. Not a number wherever a result is not one.
 * @param calculate results for these values of the inputs; must always give as many
 * @throws RangeError where an estimate or uncertainty is not finite, or an uncertainty below zero
 * @example sensitivitiesOf([{ component: "radius", estimate: 2, uncertainty: 0.1, unit: "m" }], ([r = 0]) => [r * r])
 *   // values [4], slopes [[4]]
 * @see JCGM 100:2008 (GUM), 5.1.3 note 2
 */
export function sensitivitiesOf(
  inputs: readonly UncertainInput[],
  calculate: (estimates: readonly number[]) => readonly number[],
): Sensitivities {
  for (const input of inputs) requireInput(input);
  const estimates = inputs.map(({ estimate }) => estimate);
  const values = [...calculate(estimates)];
  const slopes = values.map(() => inputs.map(() => 0));
  for (const [i, { estimate, uncertainty }] of inputs.entries()) {
    if (uncertainty === 0) continue;
    const above = calculate(estimates.with(i, estimate + uncertainty));
    const below = calculate(estimates.with(i, estimate - uncertainty));
    for (const [k, row] of slopes.entries()) row[i] = (at(above, k) - at(below, k)) / (2 * uncertainty);
  }
  return { values, slopes };
}

/**
 * Propagates uncertainties through a whole calculation. Results that share an input move together, which is how
 * correlations come out right without being named: state what is common to several readings as one input.
 * @returns a result for each that `calculate` gives; its budget lists the inputs that have a part in it
 * @throws RangeError as sensitivitiesOf
 * @example propagate([{ component: "a", estimate: 3, uncertainty: 0.3, unit: "m" },
 *   { component: "b", estimate: 4, uncertainty: 0.4, unit: "m" }], ([a = 0, b = 0]) => [a + b]) // 7 with 0.5
 * @see JCGM 100:2008 (GUM), equation 10 and 5.1.3 note 2
 */
export function propagate(
  inputs: readonly UncertainInput[],
  calculate: (estimates: readonly number[]) => readonly number[],
): Measured[] {
  const { values, slopes } = sensitivitiesOf(inputs, calculate);
  return values.map((value, k) => {
    const row = slopes[k] ?? [];
    const lines = budgetOf(inputs.map((input, i) => ({ ...input, sensitivity: at(row, i) })));
    const uncertainty = combinedUncertainty(lines);
    return { value, uncertainty, budget: lines.filter(({ share }) => !(share < LEAST_SHARE)) };
  });
}

function requireInput({ component, estimate, uncertainty }: UncertainInput): void {
  if (!Number.isFinite(estimate) || !(uncertainty >= 0 && uncertainty < Number.POSITIVE_INFINITY)) {
    throw new RangeError(`${component}: ${estimate} with standard uncertainty ${uncertainty} can't be used.`);
  }
}

function at(values: readonly number[], i: number): number {
  return values[i] ?? Number.NaN;
}
