/** An input of a measurement (JCGM 100:2008, 5.1). */
export interface BudgetInput {
  readonly component: string;
  /** Best estimate and standard uncertainty of the input, in its own unit. */
  readonly estimate: number;
  readonly uncertainty: number;
  readonly unit: string;
  /** Partial derivative of the result with respect to the input. */
  readonly sensitivity: number;
}

/** The input with what it does to the result. */
export interface BudgetLine extends BudgetInput {
  /** |sensitivity| x uncertainty, in the result's unit. */
  readonly contribution: number;
  /** Part of the combined variance, 0 to 1. */
  readonly share: number;
}

/** @returns each input with its contribution to the combined standard uncertainty, and its share of the variance */
export function budgetOf(inputs: readonly BudgetInput[]): BudgetLine[] {
  const contributions = inputs.map(({ sensitivity, uncertainty }) => Math.abs(sensitivity) * uncertainty);
  const variance = contributions.reduce((sum, contribution) => sum + contribution ** 2, 0);
  return inputs.map((input, i) => {
    const contribution = contributions[i] as number;
    return { ...input, contribution, share: variance > 0 ? contribution ** 2 / variance : 0 };
  });
}

/**
 * Combined standard uncertainty of uncorrelated inputs: root of the sum of squares.
 * @see JCGM 100:2008 (GUM), equation 10
 */
export function combinedUncertainty(budget: readonly Pick<BudgetLine, "contribution">[]): number {
  return Math.sqrt(budget.reduce((sum, line) => sum + line.contribution ** 2, 0));
}

/** Standard uncertainty of a quantity known to lie within +-halfWidth. @see JCGM 100:2008, 4.3.7 */
export function rectangular(halfWidth: number): number {
  return halfWidth / Math.sqrt(3);
}
