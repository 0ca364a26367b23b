import { exactInterval } from "../exact-interval.ts";
import { NoStudy } from "../study-report.ts";
import { cohenKappaOfUnits, fleissKappaOfUnits, type KappaWithInterval } from "./kappa-interval.ts";
import type { Interval } from "./mls-interval.ts";
import type { RatedUnit, RatedUnits } from "./rated-units.ts";

/** Of so many units so many fit, with the exact 95 % interval of the share. */
export interface Share {
  readonly matched: number;
  readonly inspected: number;
  readonly rate: number;
  readonly CI95: Interval;
}

/** How far ratings agree, in all and on each category held against all others. */
export interface Agreeing extends KappaWithInterval {
  /** Of three categories or more; with two, each has the kappa of both. */
  readonly byCategory: readonly (KappaWithInterval & { readonly category: string })[];
}

/** One way of rating against another, decision by decision. */
export interface Comparison extends Agreeing {
  /** Rows: the first; columns: the second; both by category. */
  readonly table: readonly (readonly number[])[];
  readonly n: number;
}

export interface WithinAppraiser {
  readonly appraiser: string;
  /** Units that he rated the same in all trials. */
  readonly share: Share;
  /** Fleiss', of the units he rated equally often. */
  readonly overall: Overall | null;
}

/** Fleiss' kappa of the units that were rated equally often. */
export interface Overall extends Agreeing {
  readonly units: number;
  /** Of each unit. */
  readonly ratings: number;
}

export interface AgainstReference extends Comparison {
  readonly appraiser: string;
  /** Units that he rated right in all trials: effectiveness. */
  readonly effectiveness: Share;
  /** Of decisions on bad units, those that called them good; null where it can't be told. */
  readonly miss: Rate | null;
  /** Of decisions on good units, those that called them bad. */
  readonly falseAlarm: Rate | null;
}

export interface Rate {
  readonly count: number;
  readonly of: number;
  readonly rate: number;
}

export interface BetweenAppraisers {
  /** Cohen's, the same unit and trial. */
  readonly pairs: readonly (Comparison & { readonly appraisers: readonly [string, string] })[];
  /** Fleiss', of all ratings of the units that were rated equally often; null without such. */
  readonly overall: Overall | null;
  /** Units that all appraisers rated the same in all trials. */
  readonly share: Share | null;
}

export interface Agreement {
  /** Ratings that reject; null where it isn't known which. */
  readonly bad: readonly string[] | null;
  readonly within: readonly WithinAppraiser[];
  readonly between: BetweenAppraisers | null;
  readonly against: readonly AgainstReference[];
  /** Units that all rated right in all trials. */
  readonly allRight: Share | null;
  readonly unitsWithoutReference: readonly string[];
}

/** Words that reject or accept wherever they are used; AIAG's example has 0 and 1. */
const BAD_WORDS = new Set(
  "0 bad defect defective fail failed ko ng no nok nonconforming reject rejected unacceptable".split(" "),
);
const GOOD_WORDS = new Set("1 accept acceptable accepted conforming good ok pass passed yes".split(" "));

/**
 * Agreement of attribute ratings: within each appraiser, between them, and against the reference.
 * @param bad ratings that reject; without, the one of two categories whose word says so, or whose other's word does
 * @throws NoStudy where there is nothing to compare, or a rating that rejects is not among the ratings
 * @see AIAG, Measurement Systems Analysis, 4th ed., chapter III C
 */
export function agreement(rated: RatedUnits, bad?: readonly string[]): Agreement {
  const { units, appraisers, categories } = rated;
  const withReference = units.filter(({ reference }) => reference !== null);
  const isRepeated = units.some(({ by }) => [...by.values()].some((trials) => trials.size > 1));
  if (appraisers.length < 2 && !isRepeated && withReference.length === 0) {
    throw new NoStudy(
      "One appraiser rated each unit once and no reference is known: there is nothing to compare. Rate the units again, have another appraiser rate them, or give references.",
    );
  }
  const rejecting = badOf(categories, bad);
  return {
    bad: rejecting,
    within: appraisers.flatMap((appraiser) => withinOf(rated, appraiser) ?? []),
    between: appraisers.length > 1 ? betweenOf(rated) : null,
    against: appraisers.flatMap((appraiser) => againstOf(rated, appraiser, rejecting) ?? []),
    allRight: shareOf(withReference, ({ by, reference }) =>
      appraisers.every((appraiser) => by.has(appraiser))
        ? [...by.values()].every((trials) => [...trials.values()].every((rating) => rating === reference))
        : null,
    ),
    unitsWithoutReference: units.flatMap(({ unit, reference }) => (reference === null ? [unit] : [])),
  };
}

function badOf(
  categories: readonly string[],
  given: readonly string[] | undefined,
): readonly string[] | null {
  if (given !== undefined && given.length > 0) {
    const unknown = given.find((rating) => !categories.includes(rating));
    if (unknown !== undefined)
      throw new NoStudy(`No unit is rated ${unknown}; the ratings are ${categories.join(", ")}.`);
    return given;
  }
  if (categories.length !== 2) return null;
  const rejecting = categories.filter((category) => BAD_WORDS.has(category.toLowerCase()));
  const others = categories.filter((category) => !GOOD_WORDS.has(category.toLowerCase()));
  return rejecting.length === 1 ? rejecting : rejecting.length === 0 && others.length === 1 ? others : null;
}

function withinOf({ units, categories }: RatedUnits, appraiser: string): WithinAppraiser | null {
  const repeated = units.flatMap(({ by }) => {
    const ratings = [...(by.get(appraiser)?.values() ?? [])];
    return ratings.length > 1 ? [ratings] : [];
  });
  const share = shareOf(repeated, (ratings) => new Set(ratings).size === 1);
  return share && { appraiser, share, overall: overallOf(repeated, categories) };
}

function betweenOf({ units, appraisers, categories }: RatedUnits): BetweenAppraisers {
  const pairs = appraisers.flatMap((one, i) =>
    appraisers.slice(i + 1).flatMap((other) => {
      const compared = comparison(
        categories,
        units.map(({ by }) =>
          [...(by.get(one) ?? [])].flatMap(([trial, rating]) => {
            const theirs = by.get(other)?.get(trial);
            return theirs === undefined ? [] : [[rating, theirs] as const];
          }),
        ),
      );
      return compared ? [{ appraisers: [one, other] as const, ...compared }] : [];
    }),
  );
  const all = units.map(({ by }) => [...by.values()].flatMap((trials) => [...trials.values()]));
  return {
    pairs,
    overall: overallOf(all, categories),
    share: shareOf(units, ({ by }) =>
      appraisers.every((appraiser) => by.has(appraiser))
        ? new Set([...by.values()].flatMap((trials) => [...trials.values()])).size === 1
        : null,
    ),
  };
}

function againstOf(
  { units, categories }: RatedUnits,
  appraiser: string,
  bad: readonly string[] | null,
): AgainstReference | null {
  const decided = units.map(({ by, reference }) =>
    reference === null
      ? []
      : [...(by.get(appraiser)?.values() ?? [])].map((rating) => [rating, reference] as const),
  );
  const decisions = decided.flat();
  const compared = comparison(categories, decided);
  const effectiveness = shareOf(units, ({ by, reference }: RatedUnit) => {
    const own = by.get(appraiser);
    return own && reference !== null ? [...own.values()].every((rating) => rating === reference) : null;
  });
  if (!compared || !effectiveness) return null;
  const rateWhere = (isBad: boolean): Rate | null => {
    if (bad === null) return null;
    const concerned = decisions.filter(([, reference]) => bad.includes(reference) === isBad);
    const count = concerned.filter(([rating]) => bad.includes(rating) !== isBad).length;
    return concerned.length === 0 ? null : { count, of: concerned.length, rate: count / concerned.length };
  };
  return { appraiser, ...compared, effectiveness, miss: rateWhere(true), falseAlarm: rateWhere(false) };
}

/** @param decided decisions by unit */
function comparison(
  categories: readonly string[],
  decided: readonly (readonly (readonly [string, string])[])[],
): Comparison | null {
  const units = decided.filter(({ length }) => length > 0);
  if (units.length === 0) return null;
  const tablesOf = (names: readonly string[], nameOf: (rating: string) => string) =>
    units.map((decisions) => {
      const table = names.map(() => names.map(() => 0));
      for (const [first, second] of decisions) {
        const row = table[names.indexOf(nameOf(first))] ?? [];
        const k = names.indexOf(nameOf(second));
        row[k] = (row[k] ?? 0) + 1;
      }
      return table;
    });
  const tables = tablesOf(categories, (rating) => rating);
  return {
    table: categories.map((_, i) =>
      categories.map((__, j) => tables.reduce((count, table) => count + (table[i]?.[j] ?? 0), 0)),
    ),
    n: units.flat().length,
    ...cohenKappaOfUnits(tables),
    byCategory: eachOf(categories).map((category) => ({
      category,
      ...cohenKappaOfUnits(tablesOf(["is", "is not"], (rating) => (rating === category ? "is" : "is not"))),
    })),
  };
}

/** Of the lists that are as long as most are. */
function overallOf(lists: readonly (readonly string[])[], categories: readonly string[]): Overall | null {
  const lengths = new Map<number, number>();
  for (const { length } of lists) if (length > 1) lengths.set(length, (lengths.get(length) ?? 0) + 1);
  const ratings = [...lengths].sort(([a, n], [b, m]) => m - n || b - a)[0]?.[0];
  if (ratings === undefined) return null;
  const counts = lists
    .filter(({ length }) => length === ratings)
    .map((list) => categories.map((category) => list.filter((rating) => rating === category).length));
  return {
    ...fleissKappaOfUnits(counts),
    byCategory: eachOf(categories).map((category, k) => ({
      category,
      ...fleissKappaOfUnits(counts.map((unit) => [unit[k] ?? 0, ratings - (unit[k] ?? 0)])),
    })),
    units: counts.length,
    ratings,
  };
}

function eachOf(categories: readonly string[]): readonly string[] {
  return categories.length > 2 ? categories : [];
}

/** @param fits null for one that does not count */
function shareOf<Item>(items: readonly Item[], fits: (item: Item) => boolean | null): Share | null {
  const counted = items.map(fits).filter((fit) => fit !== null);
  const inspected = counted.length;
  if (inspected === 0) return null;
  const matched = counted.filter(Boolean).length;
  return { matched, inspected, rate: matched / inspected, CI95: exactInterval(matched, inspected) };
}
