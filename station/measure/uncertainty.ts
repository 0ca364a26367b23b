/** One contribution to a combined standard uncertainty (JCGM 100:2008, 5.1). */
export interface BudgetLine {
  readonly component: string;
  /** Standard uncertainty of the input, in its own unit. */
  readonly uncertainty: number;
  readonly unit: string;
  /** Partial derivative of the result with respect to the input. */
  readonly sensitivity: number;
  /** |sensitivity| x uncertainty, in the result's unit. */
  readonly contribution: number;
}

/** @returns the line with its contribution worked out */
export function budgetLine(
  component: string,
  uncertainty: number,
  unit: string,
  sensitivity: number,
): BudgetLine {
  return { component, uncertainty, unit, sensitivity, contribution: Math.abs(sensitivity) * uncertainty };
}

/**
 * Combined standard uncertainty of uncorrelated inputs: root of the sum of squares.
 * @see JCGM 100:2008 (GUM), equation 10
 */
export function combinedUncertainty(budget: readonly BudgetLine[]): number {
  return Math.sqrt(budget.reduce((sum, line) => sum + line.contribution ** 2, 0));
}

/** Standard uncertainty of a quantity known to lie within +-halfWidth. @see JCGM 100:2008, 4.3.7 */
export function rectangular(halfWidth: number): number {
  return halfWidth / Math.sqrt(3);
}
