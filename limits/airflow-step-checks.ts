import { parseLimit } from "./characteristic-checks.ts";
import { type Contradiction, keyOf, listOf, numberOf, textOf } from "./faulty-file.ts";
import { repeated, smaller } from "./file-comparisons.ts";
import { formatQuantity } from "./print-quantity.ts";
import { ratedInputHighest_W } from "./rated-input.ts";

type Path = readonly (string | number)[];

/** Largest deviation of the supply that an exponent can correct a motor for. Common practice, no source. */
const LARGEST_TOLERANCE = 0.15;
/** 34.5 V is 15 % of 230 V. */
const ROUNDING = 1e-9;

/** What the keys of an airflow step say against one another, and against the characteristics judged by it. */
export function airflowContradictions(file: unknown, step: unknown, path: Path): Contradiction[] {
  const points = listOf(step, "points");
  const pointsPath = [...path, "points"];
  return [
    ...supplyContradictions(step, path),
    ...smaller(step, path, "stopped_below", "running_above"),
    ...smaller(step, path, "running_above", "power_highest"),
    ...powerContradictions(file, step, path),
    ...smaller(step, path, "inrush_longest", "run_up_longest"),
    ...steadyContradictions(step, path),
    ...repeated(points, "name", pointsPath, "a name that another point of the step has not"),
    // The same opening again tells nothing new of the fan: one of the two is mistyped.
    ...repeated(points, "orifice", pointsPath, "an orifice that another point of the step has not"),
  ];
}

function supplyContradictions(step: unknown, path: Path): Contradiction[] {
  const tolerance_V = numberOf(step, "supply_tolerance");
  const supply_V = numberOf(step, "supply_voltage");
  if (tolerance_V === undefined || supply_V === undefined || supply_V <= 0) return [];
  const most_V = LARGEST_TOLERANCE * supply_V;
  if (tolerance_V <= most_V * (1 + ROUNDING)) return [];
  const most = formatQuantity(most_V, "voltage", "V");
  return [{ path: [...path, "supply_tolerance"], expected: `at most 15 % of supply_voltage, ${most}` }];
}

/** A motor that is switched off before it reaches its upper limit is never judged by it. */
function powerContradictions(file: unknown, step: unknown, path: Path): Contradiction[] {
  const highest_W = numberOf(step, "power_highest");
  const name = textOf(step, "name");
  if (highest_W === undefined || name === undefined) return [];
  return listOf(file, "characteristics").flatMap((entry) => {
    if (keyOf(entry, "step") !== name || keyOf(entry, "measure") !== "power") return [];
    const upper_W = upperPower_W(entry);
    if (upper_W === undefined || highest_W > upper_W) return [];
    const whose = textOf(entry, "name");
    const of = whose === undefined ? "a power" : JSON.stringify(whose);
    const upper = formatQuantity(upper_W, "power", "W");
    return [{ path: [...path, "power_highest"], expected: `more than the upper limit of ${of}, ${upper}` }];
  });
}

function upperPower_W(entry: unknown): number | undefined {
  const text = textOf(entry, "upper");
  if (text === undefined) {
    const rated_W = numberOf(entry, "rated_input");
    return rated_W !== undefined && rated_W > 0 ? ratedInputHighest_W(rated_W) : undefined;
  }
  const parsed = parseLimit(text, "power", undefined);
  return parsed.ok ? parsed.value.value_SI : undefined;
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
