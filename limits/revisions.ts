import type { ModelLimits } from "./model.ts";

/** @returns every model's revisions, in the order in which the models first appear */
export function byModel<T extends Pick<ModelLimits, "model">>(
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
