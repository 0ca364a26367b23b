import { airflowContradictions } from "./airflow-step-checks.ts";
import { characteristicContradictions } from "./characteristic-checks.ts";
import { type Contradiction, keyOf, listOf, numberOf, textOf } from "./faulty-file.ts";
import { repeated, smaller } from "./file-comparisons.ts";
import { labelContradictions } from "./label-checks.ts";
import { parseQuantity, type ReferenceConditions } from "./quantity.ts";
import { retestContradictions } from "./retest-checks.ts";
import { suspectContradictions } from "./suspect-checks.ts";

/** 9.8 s and 0.2 s make 10 s. */
const ROUNDING = 1e-9;

/**
 * Everything one key of a limit file says against another. It is given the file with its faults, so that all of
 * them are reported together: a value of the wrong type has been reported already and is passed over here.
 * @param file what the schema made of the file so far
 */
export function contradictions(file: unknown): Contradiction[] {
  return [
    ...labelContradictions(file),
    ...retestContradictions(file),
    ...listOf(file, "steps").flatMap((step, i) => stepContradictions(file, step, i)),
    ...repeated(listOf(file, "steps"), "name", ["steps"], "a name that another step has not"),
    ...repeated(
      listOf(file, "characteristics"),
      "name",
      ["characteristics"],
      "a name that another characteristic has not",
    ),
    ...listOf(file, "characteristics").flatMap((entry, i) =>
      characteristicContradictions(file, entry, i, statedReference(file)),
    ),
    ...unjudgedSteps(file),
    ...suspectContradictions(file, statedReference(file)),
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

function stepContradictions(file: unknown, step: unknown, i: number): Contradiction[] {
  const kind = keyOf(step, "step");
  const path = ["steps", i] as const;
  if (kind === "airflow") return airflowContradictions(file, step, path);
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
