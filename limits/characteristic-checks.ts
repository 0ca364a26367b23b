import { type Contradiction, keyOf, listOf, numberOf } from "./faulty-file.ts";
import { namesIn, quotedList } from "./file-comparisons.ts";
import { DIMENSION_OF, isCurveMeasurand, isMeasurand, stepKindOf } from "./measurand.ts";
import type { CurveMeasurand, Measurand } from "./model.ts";
import { formatQuantity } from "./print-quantity.ts";
import { HOUSE_REFERENCE, parseQuantity, type ReferenceConditions } from "./quantity.ts";
import { ratedInputHighest_W } from "./rated-input.ts";

type Path = readonly (string | number)[];

/**
 * What a characteristic says against itself and against the steps.
 * @param reference conditions of leak rates that state none of their own
 */
export function characteristicContradictions(
  file: unknown,
  entry: unknown,
  i: number,
  reference: ReferenceConditions | undefined,
): Contradiction[] {
  const measure = keyOf(entry, "measure");
  const path = ["characteristics", i];
  return [
    ...placeContradictions(file, entry, isMeasurand(measure) ? measure : undefined, path),
    ...(isMeasurand(measure) ? limitContradictions(entry, measure, reference, path) : []),
    ...ratedInputContradictions(entry, path),
    ...(["lower", "upper", "rated_input"].every((key) => keyOf(entry, key) === undefined)
      ? [{ path, expected: "at least one limit, lower or upper", found: "neither" }]
      : []),
  ];
}

function ratedInputContradictions(entry: unknown, path: Path): Contradiction[] {
  if (keyOf(entry, "rated_input") === undefined) return [];
  const measure = keyOf(entry, "measure");
  const where = [...path, "rated_input"];
  if (isMeasurand(measure) && measure !== "power") {
    return [{ path: where, expected: "no rated_input: it limits power only", isAboutKey: true }];
  }
  if (keyOf(entry, "upper") === undefined) return [];
  const expected = "no rated_input beside upper: it is the upper limit itself";
  return [{ path: where, expected, isAboutKey: true }];
}

function placeContradictions(
  file: unknown,
  entry: unknown,
  measure: Measurand | undefined,
  path: Path,
): Contradiction[] {
  const stepName = keyOf(entry, "step");
  const steps = listOf(file, "steps");
  // Where the steps themselves are missing, that is said once and not of every characteristic.
  if (typeof stepName !== "string" || steps.length === 0) return [];
  const step = steps.find((candidate) => keyOf(candidate, "name") === stepName);
  if (step === undefined)
    return [{ path: [...path, "step"], expected: `one of the steps ${quotedList(namesIn(steps))}` }];
  const kind = keyOf(step, "step");
  if ((kind === "leak" || kind === "airflow") && measure && kind !== stepKindOf(measure)) {
    return [{ path: [...path, "measure"], expected: `something the ${kind} step "${stepName}" measures` }];
  }
  const point = keyOf(entry, "point");
  if (kind === "leak" && point !== undefined) {
    return [{ path: [...path, "point"], expected: "no point in a leak step" }];
  }
  const points = listOf(step, "points");
  if (kind !== "airflow" || points.length === 0) return [];
  if (measure && isCurveMeasurand(measure)) return curveContradictions(measure, point, points, path);
  if (points.some((candidate) => keyOf(candidate, "name") === point)) return [];
  return [
    {
      path: [...path, ...(point === undefined ? [] : ["point"])],
      expected: `one of the points ${quotedList(namesIn(points))}`,
      ...(point === undefined ? { found: "no point" } : {}),
    },
  ];
}

/** Points that a fan curve is drawn through at the least. */
const LEAST_POINTS = 2;

function curveContradictions(
  measure: CurveMeasurand,
  point: unknown,
  points: readonly unknown[],
  path: Path,
): Contradiction[] {
  return [
    ...(point === undefined
      ? []
      : [
          {
            path: [...path, "point"],
            expected: `no point: ${words(measure)} is taken from the curve through all of them`,
            isAboutKey: true,
          },
        ]),
    ...(points.length >= LEAST_POINTS
      ? []
      : [
          {
            path: [...path, "measure"],
            expected: "something measured at a point: one point makes no fan curve",
          },
        ]),
  ];
}

function limitContradictions(
  entry: unknown,
  measure: Measurand,
  reference: ReferenceConditions | undefined,
  path: Path,
): Contradiction[] {
  const problems: Contradiction[] = [];
  const read = (key: "lower" | "upper") => {
    const text = keyOf(entry, key);
    if (typeof text !== "string") return undefined;
    const parsed = parseLimit(text, measure, reference);
    if (!parsed.ok) {
      const { found, expected, hint } = parsed;
      problems.push({ path: [...path, key], found, expected, ...(hint === undefined ? {} : { hint }) });
      return undefined;
    }
    if (parsed.value.value_SI < 0) {
      problems.push({ path: [...path, key], expected: `a ${words(measure)} limit that is not negative` });
    }
    if (measure === "efficiency" && parsed.value.value_SI > 1) {
      problems.push({ path: [...path, key], expected: "an efficiency of at most 100 %" });
    }
    return parsed.value.value_SI;
  };
  const lower = read("lower");
  const upper = read("upper");
  const rated_W = measure === "power" ? numberOf(entry, "rated_input") : undefined;
  if (lower !== undefined && rated_W !== undefined && rated_W > 0 && lower >= ratedInputHighest_W(rated_W)) {
    const highest = formatQuantity(ratedInputHighest_W(rated_W), "power", "W");
    problems.push({ path: [...path, "lower"], expected: `less than the ${highest} that rated_input allows` });
  }
  if (lower !== undefined && upper !== undefined && lower >= upper) {
    problems.push({
      path: [...path, "lower"],
      expected: `less than upper, ${JSON.stringify(keyOf(entry, "upper"))}`,
    });
  }
  return problems;
}

/** Reads the text of a characteristic's limit; leak rates without conditions refer to the file's reference. */
export function parseLimit(text: string, measure: Measurand, reference: ReferenceConditions | undefined) {
  return parseQuantity(text, DIMENSION_OF[measure], { reference: reference ?? HOUSE_REFERENCE });
}

function words(measure: Measurand): string {
  return measure.replaceAll("_", " ");
}
