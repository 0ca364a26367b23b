import type { ModelLimits } from "./model.ts";

type Dated = Pick<ModelLimits, "model" | "revision" | "effectiveDate">;

/**
 * Of each model the one revision that counts on a day, whoever has approved it: the highest whose day has come; where none
 * has, the one whose day comes first.
 * @param today ISO 8601 calendar date
 * @returns in the order in which the models first appear
 * @example revisionsOn([{ model: "POD-4", revision: 4, effectiveDate: "2026-01-05" }, { model: "POD-4", revision: 5, effectiveDate: "2026-02-01" }], "2026-01-31") // revision 4
 */
export function revisionsOn<T extends Dated>(limits: readonly T[], today: string): T[] {
  return [...byModel(limits).values()].map((revisions) => {
    const [first, ...others] = revisions;
    return others.reduce((best, one) => (countsBefore(one, best, today) ? one : best), first);
  });
}

/** @returns every model's revisions, in the order in which the models first appear */
export function byModel<T extends Pick<Dated, "model">>(
  limits: readonly T[],
): ReadonlyMap<string, readonly [T, ...T[]]> {
  const models = new Map<string, [T, ...T[]]>();
  for (const one of limits) {
    const known = models.get(one.model);
    if (known) known.push(one);
    else models.set(one.model, [one]);
  }
  return models;
}

function countsBefore(one: Dated, other: Dated, today: string): boolean {
  const [hasCome, otherHasCome] = [one, other].map(({ effectiveDate }) => effectiveDate <= today);
  if (hasCome !== otherHasCome) return hasCome === true;
  return hasCome ? one.revision > other.revision : one.effectiveDate < other.effectiveDate;
}
