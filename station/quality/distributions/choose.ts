import type { Distribution, Family, FamilyName, Fit } from "./distribution.ts";
import { LARGEST_EXTREME, SMALLEST_EXTREME, WEIBULL } from "./extreme-value.ts";
import { GAMMA } from "./gamma.ts";
import { andersonDarling, type GoodnessOfFit } from "./goodness-of-fit.ts";
import { LOGNORMAL, NORMAL } from "./normal.ts";
import { SHIFTED_LOGNORMAL } from "./shifted-lognormal.ts";

const FAMILIES: readonly Family[] = [
  NORMAL,
  LOGNORMAL,
  WEIBULL,
  GAMMA,
  LARGEST_EXTREME,
  SMALLEST_EXTREME,
  SHIFTED_LOGNORMAL,
];

/** For command lines. */
export const FAMILY_NAMES: readonly FamilyName[] = FAMILIES.map(({ name }) => name);

/** Two distributions whose AICc differ by less have much the same support (Burnham and Anderson 2002, from memory). */
const ALIKE = 2;
/** Below it a distribution is refused. */
export const LEAST_P = 0.05;
/** Three parameters of fewer values are anybody's guess (common practice, no source). */
const LEAST_FOR_THREE = 50;

/** A distribution that was held against the values. */
export interface Candidate {
  readonly words: string;
  readonly distribution: Distribution;
  /** Akaike's information criterion, corrected for few values: the less the better. */
  readonly AICc: number;
  /** Null where an earlier one was good enough. */
  readonly goodness: GoodnessOfFit | null;
}

export interface Choice {
  /** In the order in which they were tried. */
  readonly candidates: readonly Candidate[];
  /** Null where no distribution describes the values. */
  readonly chosen: Candidate | null;
  /** In words of a sentence, those left out for values of zero and less. */
  readonly withoutZero: readonly string[];
}

/**
 * Chooses a distribution for values: each family is fitted by maximum likelihood, and the first in order of AICc that
 * Anderson and Darling's test does not refuse at 5 % is taken; normal comes first where its AICc is within 2 of the least.
 * Lognormal, Weibull and gamma are left out where a value is zero or less. The shifted lognormal, with a parameter more, comes
 * last, from 50 values on.
 * @param sorted ascending, at least five, not all the same
 * @see Akaike 1974; Hurvich and Tsai 1989 for the correction (from memory)
 */
export function chooseDistribution(sorted: ArrayLike<number>): Choice {
  const hasZero = (sorted[0] ?? 0) <= 0;
  const fits = FAMILIES.filter(
    ({ positiveOnly, parameters }) =>
      !(positiveOnly && hasZero) && !(parameters > 2 && sorted.length < LEAST_FOR_THREE),
  )
    .flatMap((family) => {
      const fit = usable(family.fit(sorted));
      return fit ? [{ family, fit, AICc: correctedAkaike(family, fit, sorted.length) }] : [];
    })
    .sort((a, b) => a.family.parameters - b.family.parameters || a.AICc - b.AICc);
  const least = fits[0]?.AICc ?? 0;
  const normalFirst = fits.filter(({ family, AICc }) => family === NORMAL && AICc - least <= ALIKE);
  const candidates: Candidate[] = [];
  let chosen: Candidate | null = null;
  for (const { family, fit, AICc } of new Set([...normalFirst, ...fits])) {
    const { distribution } = fit;
    const goodness: GoodnessOfFit | null = chosen ? null : andersonDarling(sorted, family, distribution);
    const candidate: Candidate = { words: family.words, distribution, AICc, goodness };
    candidates.push(candidate);
    if (goodness && goodness.p >= LEAST_P) chosen = candidate;
  }
  const withoutZero = hasZero ? FAMILIES.filter((it) => it.positiveOnly).map(({ words }) => words) : [];
  return { candidates, chosen, withoutZero };
}

/**
 * One family, as asked for, with its test.
 * @returns null where the family can't be fitted to such values
 */
export function fitFamily(sorted: ArrayLike<number>, name: FamilyName): Candidate | null {
  const family = familyOf(name);
  if (family.positiveOnly && (sorted[0] ?? 0) <= 0) return null;
  const fit = usable(family.fit(sorted));
  if (!fit) return null;
  const { distribution } = fit;
  return {
    words: family.words,
    distribution,
    AICc: correctedAkaike(family, fit, sorted.length),
    goodness: andersonDarling(sorted, family, distribution),
  };
}

export function familyOf(name: FamilyName): Family {
  return FAMILIES.find((it) => it.name === name) ?? NORMAL;
}

function correctedAkaike({ parameters }: Family, { logLikelihood }: Fit, n: number): number {
  return -2 * logLikelihood + 2 * parameters + (2 * parameters * (parameters + 1)) / (n - parameters - 1);
}

/** Numbers all along, where a study looks. */
function usable(fit: Fit | null): Fit | null {
  if (!fit) return null;
  const { distribution, logLikelihood } = fit;
  const seen = [
    logLikelihood,
    ...[0.00135, 0.5, 0.99865].map((p) => distribution.quantile(p)),
    ...Object.values(distribution.parameters),
  ];
  return seen.every(Number.isFinite) ? fit : null;
}
