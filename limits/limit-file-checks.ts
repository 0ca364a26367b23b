import { type Contradiction, keyOf, listOf, numberOf, textOf } from "./faulty-file.ts";
import { DIMENSION_OF, isCurveMeasurand, isMeasurand, stepKindOf } from "./measurand.ts";
import type { Measurand } from "./model.ts";
import { HOUSE_REFERENCE, parseQuantity, type ReferenceConditions } from "./quantity.ts";

/** 9.8 s and 0.2 s make 10 s. */
const ROUNDING = 1e-9;

/**
 * Everything one key of a limit file says against another. It is given the file with its faults, so that all of
 * them are reported together: a value of the wrong type has been reported already and is passed over here.
 * @param file what the schema made of the file so far
 */
export function contradictions(file: unknown): Contradiction[] {
  return [
    ...serialContradictions(file),
    ...listOf(file, "steps").flatMap((step, i) => stepContradictions(file, step, i)),
    ...repeatedNames(listOf(file, "steps"), ["steps"], "another step"),
    ...repeatedNames(listOf(file, "characteristics"), ["characteristics"], "another characteristic"),
    ...repeatedNames(listOf(file, "parts"), ["parts"], "another part"),
    ...listOf(file, "characteristics").flatMap((entry, i) => characteristicContradictions(file, entry, i)),
    ...unjudgedSteps(file),
  ];
}

/** @returns the reference conditions a file states for its leak rates, undefined if it states none */
export function statedReference(file: unknown): ReferenceConditions | undefined {
  const reference = keyOf(file, "reference");
  const temperature_K = numberOf(reference, "temperature");
  const pressure_Pa = numberOf(reference, "pressure");
  return temperature_K === undefined || pressure_Pa === undefined
    ? undefined
    : { temperature_K, pressure_Pa };
}

function serialContradictions(file: unknown): Contradiction[] {
  const pattern = keyOf(keyOf(file, "serial"), "pattern");
  const example = keyOf(keyOf(file, "serial"), "example");
  if (!(pattern instanceof RegExp) || typeof example !== "string" || pattern.test(example)) return [];
  return [{ path: ["serial", "example"], expected: `a serial that fits the pattern ${pattern.source}` }];
}

function stepContradictions(file: unknown, step: unknown, i: number): Contradiction[] {
  const kind = keyOf(step, "step");
  const path = ["steps", i] as const;
  if (kind === "airflow") {
    return [
      ...smaller(step, path, "supply_tolerance", "supply_voltage"),
      ...repeatedNames(listOf(step, "points"), [...path, "points"], "another point of the step"),
    ];
  }
  if (kind !== "leak") return [];
  return [
    ...ratingContradictions(file, step, path),
    ...smaller(step, path, "fill_tolerance", "test_pressure"),
    ...smaller(step, path, "vented_within", "test_pressure"),
    ...smaller(step, path, "fill_shortest", "fill_longest"),
    ...smaller(step, path, "vent_shortest", "vent_longest"),
    ...earlyVerdictContradictions(step, path),
  ];
}

function earlyVerdictContradictions(step: unknown, path: readonly (string | number)[]): Contradiction[] {
  const rule = keyOf(step, "early_verdict");
  if (typeof rule !== "object" || rule === null) return [];
  const where = [...path, "early_verdict"];
  const method = keyOf(keyOf(step, "method"), "kind");
  const shortest_s = timeOf(rule, "measure_shortest");
  const lookEvery_s = timeOf(rule, "look_every");
  const longest_s = numberOf(step, "measure_longest");
  const problems: Contradiction[] = [];
  if (method === "slope" || method === "difference") {
    problems.push({
      path: where,
      expected: `"off" with method ${method}: only a fit tells heat from leak while the gas still settles, and how sure it is at every look`,
    });
  }
  if (longest_s === undefined || shortest_s === undefined) return problems;
  if (shortest_s >= longest_s) {
    problems.push({ path: [...where, "measure_shortest"], expected: "less than measure_longest" });
  } else if (lookEvery_s !== undefined && shortest_s + lookEvery_s > longest_s * (1 + ROUNDING)) {
    problems.push({
      path: [...where, "look_every"],
      expected: "no more than measure_longest less measure_shortest",
    });
  }
  return problems;
}

/** Another fault in the mapping leaves its quantities texts: one of two forms had to fit as a whole. */
function timeOf(from: unknown, key: string): number | undefined {
  const text = textOf(from, key);
  if (text === undefined) return numberOf(from, key);
  const parsed = parseQuantity(text, "time");
  return parsed.ok ? parsed.value.value_SI : undefined;
}

function ratingContradictions(
  file: unknown,
  step: unknown,
  path: readonly (string | number)[],
): Contradiction[] {
  const test_Pa = numberOf(step, "test_pressure");
  const rated_Pa = numberOf(keyOf(file, "body"), "rated_pressure");
  const where = [...path, "test_pressure"];
  if (test_Pa === undefined) return [];
  if (test_Pa === 0) return [{ path: where, expected: "a test pressure above or below ambient" }];
  if (rated_Pa === undefined) return [];
  if (Math.sign(rated_Pa) !== Math.sign(test_Pa)) {
    return [{ path: where, expected: "the sign of the body's rated_pressure" }];
  }
  if (Math.abs(test_Pa) <= Math.abs(rated_Pa)) return [];
  return [{ path: where, expected: "no more than the body's rated_pressure" }];
}

function smaller(
  step: unknown,
  path: readonly (string | number)[],
  key: string,
  than: string,
): Contradiction[] {
  const value = numberOf(step, key);
  const bound = numberOf(step, than);
  if (value === undefined || !bound || value < Math.abs(bound)) return [];
  return [{ path: [...path, key], expected: `less than ${than}` }];
}

function repeatedNames(
  entries: readonly unknown[],
  path: readonly (string | number)[],
  other: string,
): Contradiction[] {
  const seen = new Set<string>();
  return entries.flatMap((entry, i) => {
    const name = keyOf(entry, "name");
    if (typeof name !== "string") return [];
    if (!seen.has(name)) {
      seen.add(name);
      return [];
    }
    return [
      { path: [...path, i, "name"], expected: `a name that ${other} has not`, found: JSON.stringify(name) },
    ];
  });
}

function characteristicContradictions(file: unknown, entry: unknown, i: number): Contradiction[] {
  const measure = keyOf(entry, "measure");
  const path = ["characteristics", i];
  return [
    ...placeContradictions(file, entry, isMeasurand(measure) ? measure : undefined, path),
    ...(isMeasurand(measure) ? limitContradictions(entry, measure, statedReference(file), path) : []),
    ...(keyOf(entry, "lower") === undefined && keyOf(entry, "upper") === undefined
      ? [{ path, expected: "at least one limit, lower or upper", found: "neither" }]
      : []),
  ];
}

function placeContradictions(
  file: unknown,
  entry: unknown,
  measure: Measurand | undefined,
  path: readonly (string | number)[],
): Contradiction[] {
  const stepName = keyOf(entry, "step");
  const steps = listOf(file, "steps");
  // Where the steps themselves are missing, that is said once and not of every characteristic.
  if (typeof stepName !== "string" || steps.length === 0) return [];
  const step = steps.find((candidate) => keyOf(candidate, "name") === stepName);
  if (step === undefined)
    return [{ path: [...path, "step"], expected: `one of the steps ${namesOf(steps)}` }];
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
  if (measure && isCurveMeasurand(measure)) {
    return point === undefined
      ? []
      : [
          {
            path: [...path, "point"],
            expected: `no point: ${measure} is taken from the curve through all of them`,
          },
        ];
  }
  if (points.some((candidate) => keyOf(candidate, "name") === point)) return [];
  return [
    {
      path: [...path, ...(point === undefined ? [] : ["point"])],
      expected: `one of the points ${namesOf(points)}`,
      ...(point === undefined ? { found: "no point" } : {}),
    },
  ];
}

function limitContradictions(
  entry: unknown,
  measure: Measurand,
  reference: ReferenceConditions | undefined,
  path: readonly (string | number)[],
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
      problems.push({ path: [...path, key], expected: `a ${measure} limit that is not negative` });
    }
    return parsed.value.value_SI;
  };
  const lower = read("lower");
  const upper = read("upper");
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

function unjudgedSteps(file: unknown): Contradiction[] {
  const steps = listOf(file, "steps");
  const characteristics = listOf(file, "characteristics");
  const judged = new Set(characteristics.map((entry) => keyOf(entry, "step")));
  if (characteristics.length === 0) return [];
  // A mistyped step name is reported where it is written, not as a step left unjudged too.
  const names = new Set(steps.map((step) => keyOf(step, "name")));
  if (![...judged].every((name) => names.has(name))) return [];
  return steps.flatMap((step, i) => {
    const name = keyOf(step, "name");
    if (typeof name !== "string" || judged.has(name)) return [];
    return [{ path: ["steps", i, "name"], expected: "a step that a characteristic judges" }];
  });
}

function namesOf(entries: readonly unknown[]): string {
  return entries
    .map((entry) => keyOf(entry, "name"))
    .filter((name) => typeof name === "string")
    .map((name) => JSON.stringify(name))
    .join(", ");
}
