import { normalCdf } from "../../../limits/normal.ts";

/** True values of a production: a share of it, normally distributed. A standard deviation of 0 is one value. */
export interface PopulationPart {
  readonly mean: number;
  readonly sd: number;
  /** Its part of the production; the parts' weights need not add up to 1. */
  readonly weight: number;
}

export interface TrueLimits {
  readonly lower?: number;
  readonly upper?: number;
}

/** Probabilities of a unit taken at random, each of all units. */
export interface GlobalRisks {
  /** Bad and accepted: the consumer's risk, R_C. */
  readonly falseAccept: number;
  /** Good and rejected: the producer's risk, R_P. */
  readonly falseReject: number;
  readonly conforming: number;
}

/** A normal distribution has nothing to tell beyond. */
const REACH = 9;
/** Even; the spread of a reading, which the chance of acceptance follows, is then met to better than a millionth. */
const STEPS = 400;
/** A chance of acceptance this near to 0 or 1 at both ends of a part is so in all of it. */
const CERTAIN = 1e-13;

/**
 * Global risks of accepting by a measurement, over a production's true values:
 * R_C = integral over values outside the limits of g0(Y) P(accepted | Y), R_P the same of those inside and rejected.
 * @param accepted chance that a unit of this true value is accepted; falls or rises with it, or both in turn
 * @throws RangeError without parts
 * @example globalRisks([{ mean: 1500, sd: 0.12, weight: 1 }], { lower: 1499.8, upper: 1500.2 }, accepted)
 * // 0.0189 and 0.0372 where accepted is that of readings with 0.04 held against the limits themselves
 * @see JCGM 106:2012, 9.5 (its equations for a normal prior; ours is a mixture of normals, by Simpson's rule)
 */
export function globalRisks(
  parts: readonly PopulationPart[],
  { lower = Number.NEGATIVE_INFINITY, upper = Number.POSITIVE_INFINITY }: TrueLimits,
  accepted: (truth: number) => number,
): GlobalRisks {
  let [falseAccept, falseReject, conforming, all] = [0, 0, 0, 0];
  for (const { mean, sd, weight } of parts) {
    all += weight;
    if (sd === 0) {
      const isGood = lower <= mean && mean <= upper;
      if (isGood) conforming += weight;
      if (isGood) falseReject += weight * (1 - accepted(mean));
      else falseAccept += weight * accepted(mean);
      continue;
    }
    const below = normalCdf((lower - mean) / sd);
    const above = normalCdf((mean - upper) / sd);
    const good = Math.max(0, 1 - below - above);
    conforming += weight * good;
    const [from, to] = [mean - REACH * sd, mean + REACH * sd];
    const [low, high] = [Math.min(Math.max(lower, from), to), Math.max(Math.min(upper, to), from)];
    const chances = [accepted(from), accepted(to)];
    if (!Number.isFinite(lower) && chances.every((chance) => chance > 1 - CERTAIN)) {
      falseAccept += weight * (below + above);
      continue;
    }
    if (!Number.isFinite(lower) && chances.every((chance) => chance < CERTAIN)) {
      falseReject += weight * good;
      continue;
    }
    const density = (truth: number) =>
      Math.exp(-0.5 * ((truth - mean) / sd) ** 2) / (sd * Math.sqrt(2 * Math.PI));
    const bad = (truth: number) => density(truth) * accepted(truth);
    const rejected = (truth: number) => density(truth) * (1 - accepted(truth));
    falseAccept += weight * (simpson(bad, from, low) + simpson(bad, high, to));
    falseReject += weight * simpson(rejected, low, high);
  }
  if (!(all > 0)) throw new RangeError("A production without units has no risks.");
  return { falseAccept: falseAccept / all, falseReject: falseReject / all, conforming: conforming / all };
}

function simpson(f: (x: number) => number, from: number, to: number): number {
  if (!(to > from)) return 0;
  const h = (to - from) / STEPS;
  let sum = f(from) + f(to);
  for (let i = 1; i < STEPS; i++) sum += f(from + i * h) * (i % 2 === 1 ? 4 : 2);
  return (sum * h) / 3;
}

/** Parts of nearly the same mean and standard deviation count as one: thousands of units are then as quick as hundreds. */
const SAME_WITHIN = 0.25;

/**
 * The same production in fewer parts: those whose standard deviations differ by a quarter at most, and their means by a quarter
 * of it or by `least`, are taken together, with the mean and standard deviation that they have in common.
 * @param least in the unit of the values: of no matter to anybody
 */
export function fewerParts(parts: readonly PopulationPart[], least: number): PopulationPart[] {
  const groups = new Map<string, PopulationPart[]>();
  for (const part of parts) {
    const size = part.sd > 0 ? Math.round(Math.log(part.sd) / Math.log1p(SAME_WITHIN)) : null;
    const width = Math.max(least, size === null ? 0 : SAME_WITHIN * (1 + SAME_WITHIN) ** size);
    const isNarrow = size === null || width === least;
    const key = `${isNarrow ? "narrow" : size} ${Math.round(part.mean / width)}`;
    const group = groups.get(key);
    if (group) group.push(part);
    else groups.set(key, [part]);
  }
  return [...groups.values()].map((group) => {
    const weight = group.reduce((sum, part) => sum + part.weight, 0);
    const mean = group.reduce((sum, part) => sum + part.weight * part.mean, 0) / weight;
    const square = group.reduce(
      (sum, part) => sum + part.weight * (part.sd ** 2 + (part.mean - mean) ** 2),
      0,
    );
    return { weight, mean, sd: Math.sqrt(square / weight) };
  });
}
