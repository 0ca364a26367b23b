import { NoStudy } from "../study-report.ts";
import { inNaturalOrder } from "./natural-order.ts";

/** What an appraiser said of a unit. */
export interface Rating {
  readonly unit: string;
  readonly appraiser: string;
  readonly trial: string;
  readonly rating: string;
  /** What is known to be right, if it is. */
  readonly reference?: string | undefined;
  /** Where it stands, for messages: "line 7". */
  readonly place?: string;
}

/** Ratings sorted, in an order that does not depend on theirs. */
export interface RatedUnits {
  readonly categories: readonly string[];
  readonly appraisers: readonly string[];
  readonly units: readonly RatedUnit[];
  readonly ratings: readonly Rating[];
}

export interface RatedUnit {
  readonly unit: string;
  readonly reference: string | null;
  /** By appraiser, then trial. */
  readonly by: ReadonlyMap<string, ReadonlyMap<string, string>>;
}

/** More are measured values, or the wrong column. */
const [MOST_CATEGORIES, MOST_APPRAISERS] = [30, 100];

/**
 * @throws NoStudy on a rating given twice, a unit with two references, names that differ in capitals only, fewer than two units, too
 * many different ratings or appraisers
 */
export function ratedUnits(given: readonly Rating[]): RatedUnits {
  checkCapitals("ratings", [
    ...given.map(({ rating }) => rating),
    ...given.flatMap(({ reference }) => (reference === undefined ? [] : [reference])),
  ]);
  checkCapitals(
    "appraisers",
    given.map(({ appraiser }) => appraiser),
  );
  const units = new Map<string, { reference: string | null; by: Map<string, Map<string, string>> }>();
  for (const one of given) {
    const { unit, appraiser, trial, rating, reference } = one;
    const own = units.get(unit) ?? { reference: null, by: new Map<string, Map<string, string>>() };
    units.set(unit, own);
    if (reference !== undefined && own.reference !== null && own.reference !== reference) {
      throw new NoStudy(
        `${placeOf(one)}unit ${unit} has the reference ${reference} here and ${own.reference} before: a unit is one or the other.`,
      );
    }
    own.reference ??= reference ?? null;
    const trials = own.by.get(appraiser) ?? new Map<string, string>();
    own.by.set(appraiser, trials);
    if (trials.has(trial)) {
      throw new NoStudy(
        `${placeOf(one)}unit ${unit}, appraiser ${appraiser}, trial ${trial} is there twice: give each rating a trial of its own.`,
      );
    }
    trials.set(trial, rating);
  }
  if (units.size < 2) {
    throw new NoStudy(
      "Agreement shows on many units: rate 20 or more, better 50, good ones, bad ones and some near the limit.",
    );
  }
  const names = inNaturalOrder([...units.keys()]);
  const appraisers = inNaturalOrder(given.map(({ appraiser }) => appraiser));
  const categories = inNaturalOrder(
    given.flatMap(({ rating, reference }) => (reference === undefined ? [rating] : [rating, reference])),
  );
  if (categories.length > MOST_CATEGORIES) {
    throw new NoStudy(
      `There are ${categories.length} different ratings, ${MOST_CATEGORIES} at most make a study: agreement is of words like pass and fail. For measured values there is study repeatability.`,
    );
  }
  if (appraisers.length > MOST_APPRAISERS) {
    throw new NoStudy(
      `There are ${appraisers.length} appraisers, ${MOST_APPRAISERS} at most make a study: is another column meant?`,
    );
  }
  const keyed = new Map(given.map((rating) => [keyOf(rating), rating]));
  const trialNames = inNaturalOrder(given.map(({ trial }) => trial));
  return {
    categories,
    appraisers,
    units: names.map((unit) => ({ unit, ...(units.get(unit) ?? { reference: null, by: new Map() }) })),
    ratings: names.flatMap((unit) =>
      appraisers.flatMap((appraiser) =>
        trialNames.flatMap((trial) => keyed.get(keyOf({ unit, appraiser, trial })) ?? []),
      ),
    ),
  };
}

/** Asked for only to name one: where lines are counted, that takes longer than all the rest. */
function placeOf({ place }: Rating): string {
  return place === undefined ? "" : `${place}: `;
}

function keyOf({ unit, appraiser, trial }: Pick<Rating, "unit" | "appraiser" | "trial">): string {
  return JSON.stringify([unit, appraiser, trial]);
}

/** Else "Pass" and "pass" would disagree. */
function checkCapitals(what: string, names: readonly string[]): void {
  const seen = new Map<string, string>();
  for (const name of names) {
    const known = seen.get(name.toLowerCase());
    if (known !== undefined && known !== name)
      throw new NoStudy(`The ${what} ${known} and ${name} differ in capitals only: write them in one way.`);
    seen.set(name.toLowerCase(), name);
  }
}
