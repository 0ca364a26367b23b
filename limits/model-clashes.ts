import { readFileSync } from "node:fs";
import { dirname, resolve } from "node:path";
import { type FileProblem, problemIn } from "./checked-yaml.ts";
import type { ModelLimits } from "./model.ts";
import { sharedText } from "./pattern-overlap.ts";

/** What the limit files of one station say against one another: a scanned label must tell its model. */
export function modelClashes(models: readonly ModelLimits[]): FileProblem[] {
  return models.flatMap((model, i) =>
    models.slice(0, i).flatMap((other) => {
      if (model.model === other.model) return model.revision === other.revision ? [twice(model, other)] : [];
      return [...serialClash(model, other), ...partClashes(model, other), ...partClashes(other, model)];
    }),
  );
}

/**
 * What one limit file says against others that it is to lie beside. Another file of its own model counts only where both lie in
 * one folder: elsewhere it is the one that is to be replaced.
 */
export function clashesWith(limits: ModelLimits, others: readonly ModelLimits[]): FileProblem[] {
  const path = resolve(limits.source.path);
  const byPath = new Map(others.map((other) => [resolve(other.source.path), other]));
  return [...byPath].flatMap(([otherPath, other]) => {
    const isReplaced = other.model === limits.model && dirname(otherPath) !== dirname(path);
    return otherPath === path || isReplaced ? [] : modelClashes([other, limits]);
  });
}

/** The next revision may lie beside the one in force; nobody could tell two of one number apart. */
function twice(model: ModelLimits, other: ModelLimits): FileProblem {
  const found = `${model.revision}, as ${other.source.path} has of ${model.model}`;
  return problem(model, ["revision"], found, "one file for each revision of a model");
}

function serialClash(model: ModelLimits, other: ModelLimits): FileProblem[] {
  const shared =
    [model.serialExample, other.serialExample].find(
      (serial) => model.serialPattern.test(serial) && other.serialPattern.test(serial),
    ) ?? sharedText(model.serialPattern, other.serialPattern);
  if (shared === null) return [];
  const found = `a serial pattern that takes ${shared}, as ${other.source.path} does`;
  return [problem(model, ["serial", "pattern"], found, "serials that belong to one model only")];
}

/** Parts of one model that look like units of the other. */
function partClashes(model: ModelLimits, other: ModelLimits): FileProblem[] {
  return model.parts.flatMap(({ pattern }, i) => {
    const shared = sharedText(pattern, other.serialPattern);
    if (shared === null) return [];
    const found = `a part pattern that takes ${shared}, as the serials of ${other.source.path} do`;
    return [problem(model, ["parts", i, "pattern"], found, "part numbers that are no serial of any model")];
  });
}

function problem(
  { source }: ModelLimits,
  keys: readonly (string | number)[],
  found: string,
  expected: string,
): FileProblem {
  return problemIn(source.path, readFileSync(source.path, "utf8"), [...keys], { found, expected });
}
