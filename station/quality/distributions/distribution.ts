import type { SeededRandom } from "../seeded-random.ts";

export type FamilyName =
  | "normal"
  | "lognormal"
  | "weibull"
  | "gamma"
  | "largest-extreme-value"
  | "smallest-extreme-value"
  | "shifted-lognormal";

/** A family of distributions with all its parameters known. */
export interface Distribution {
  readonly family: FamilyName;
  /** By their usual names. */
  readonly parameters: Readonly<Record<string, number>>;
  /** Probability of at most x. */
  cdf(x: number): number;
  /** Probability of more than x. */
  tail(x: number): number;
  density(x: number): number;
  /** The x with this probability below it. @param p between 0 and 1, neither of them */
  quantile(p: number): number;
  draw(random: SeededRandom): number;
}

/** What was made of values: by maximum likelihood but for a shifted one. */
export interface Fit {
  readonly distribution: Distribution;
  /** Natural logarithm. */
  readonly logLikelihood: number;
}

/** Distributions of one form. */
export interface Family {
  readonly name: FamilyName;
  /** As in a sentence. */
  readonly words: string;
  /** How many. */
  readonly parameters: 2 | 3;
  /** Has no place for zero and less. */
  readonly positiveOnly: boolean;
  /** @param values at least two that differ; above zero where `positiveOnly`. @returns null where none of the family comes near them */
  fit(values: ArrayLike<number>): Fit | null;
}
