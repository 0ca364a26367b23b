import { parseLimit } from "./characteristic-checks.ts";
import { type Contradiction, keyOf, listOf, numberOf, textOf } from "./faulty-file.ts";
import { namesIn, quotedList } from "./file-comparisons.ts";
import { isMeasurand } from "./measurand.ts";
import { nearest } from "./nearest.ts";
import type { ReferenceConditions } from "./quantity.ts";

type Path = readonly (string | number)[];

/**
 * What the rules of suspicion say against the characteristics and the tracked parts.
 * @param reference conditions of leak rates that state none of their own
 */
export function suspectContradictions(
  file: unknown,
  reference: ReferenceConditions | undefined,
): Contradiction[] {
  return listOf(file, "suspects").flatMap((rule, i) =>
    listOf(rule, "when").flatMap((condition, j) =>
      conditionContradictions(file, condition, reference, ["suspects", i, "when", j]),
    ),
  );
}

function conditionContradictions(
  file: unknown,
  condition: unknown,
  reference: ReferenceConditions | undefined,
  path: Path,
): Contradiction[] {
  switch (keyOf(condition, "kind")) {
    case "ratio":
      return [
        ...nameContradictions(file, "characteristics", textOf(condition, "of"), [...path, "of"]),
        ...limitContradictions(file, condition, reference, path),
        ...boundContradictions(condition, path),
      ];
    case "verdict":
      return nameContradictions(file, "characteristics", textOf(condition, "of"), [...path, "of"]);
    case "part":
      return nameContradictions(file, "parts", textOf(condition, "part"), [...path, "part"]);
    default:
      return [];
  }
}

function nameContradictions(
  file: unknown,
  list: "characteristics" | "parts",
  name: string | undefined,
  path: Path,
): Contradiction[] {
  const known = namesIn(listOf(file, list));
  if (name === undefined || known.includes(name)) return [];
  if (known.length === 0) {
    // That a file has no characteristics is said once; parts it may well have none.
    return list === "parts" ? [{ path, expected: "a tracked part, and the file has none" }] : [];
  }
  const meant = nearest(name, known);
  return [
    {
      path,
      expected: `one of the ${list} ${quotedList(known)}`,
      ...(meant === undefined ? {} : { hint: `did you mean ${meant}?` }),
    },
  ];
}

/** A value can only be divided by a limit that its characteristic has, and not by zero. */
function limitContradictions(
  file: unknown,
  condition: unknown,
  reference: ReferenceConditions | undefined,
  path: Path,
): Contradiction[] {
  const of = textOf(condition, "of");
  const to = keyOf(condition, "to");
  const judged = listOf(file, "characteristics").find((entry) => keyOf(entry, "name") === of);
  if (of === undefined || judged === undefined || (to !== "lower" && to !== "upper")) return [];
  const has = {
    lower: keyOf(judged, "lower") !== undefined,
    upper: keyOf(judged, "upper") !== undefined || keyOf(judged, "rated_input") !== undefined,
  };
  const other = to === "lower" ? "upper" : "lower";
  if (has[to]) {
    const measure = keyOf(judged, "measure");
    const text = textOf(judged, to);
    if (!isMeasurand(measure) || text === undefined) return [];
    const limit = parseLimit(text, measure, reference);
    if (!limit.ok || limit.value.value_SI !== 0) return [];
    return [
      { path: [...path, "to"], expected: `a limit above zero: ${to} of ${JSON.stringify(of)} is ${text}` },
    ];
  }
  // A characteristic without any limit is told of where it stands.
  if (!has[other]) return [];
  return [{ path: [...path, "to"], expected: `${other}: ${JSON.stringify(of)} has no ${to} limit` }];
}

function boundContradictions(condition: unknown, path: Path): Contradiction[] {
  if (keyOf(condition, "at_least") === undefined && keyOf(condition, "at_most") === undefined) {
    return [{ path, expected: "at_least, at_most or both", found: "neither" }];
  }
  const [least, most] = [numberOf(condition, "at_least"), numberOf(condition, "at_most")];
  if (least === undefined || most === undefined || least < most) return [];
  return [{ path: [...path, "at_least"], expected: `less than at_most, ${most}` }];
}
