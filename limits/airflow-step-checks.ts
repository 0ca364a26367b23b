import { type Contradiction, keyOf, listOf, numberOf } from "./faulty-file.ts";
import { repeated, smaller } from "./file-comparisons.ts";

type Path = readonly (string | number)[];

/** What the keys of an airflow step say against one another. */
export function airflowContradictions(step: unknown, path: Path): Contradiction[] {
  const points = listOf(step, "points");
  const pointsPath = [...path, "points"];
  return [
    ...smaller(step, path, "supply_tolerance", "supply_voltage"),
    ...smaller(step, path, "stopped_below", "running_above"),
    ...smaller(step, path, "running_above", "power_highest"),
    ...smaller(step, path, "inrush_longest", "run_up_longest"),
    ...steadyContradictions(step, path),
    ...repeated(points, "name", pointsPath, "a name that another point of the step has not"),
    // The same opening again tells nothing new of the fan: one of the two is mistyped.
    ...repeated(points, "orifice", pointsPath, "an orifice that another point of the step has not"),
  ];
}

/** The trend of a steady quantity has to fit into the time it is looked for. */
function steadyContradictions(step: unknown, path: Path): Contradiction[] {
  const window_s = numberOf(keyOf(step, "steady"), "window");
  if (window_s === undefined) return [];
  const isTooShort = (from: unknown, key: string) =>
    (numberOf(from, key) ?? Number.POSITIVE_INFINITY) <= window_s;
  const where = [...path, "steady", "window"];
  if (isTooShort(step, "run_up_longest")) return [{ path: where, expected: "less than run_up_longest" }];
  const held = listOf(step, "points").find((point) => isTooShort(point, "hold_longest"));
  if (held === undefined) return [];
  const name = keyOf(held, "name");
  const whose = typeof name === "string" ? `the point ${JSON.stringify(name)}` : "each point";
  return [{ path: where, expected: `less than hold_longest of ${whose}` }];
}
