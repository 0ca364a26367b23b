import type { CurveMeasurand, Measurand } from "./model.ts";
import type { Dimension } from "./quantity.ts";

/** The dimension of each measurand's limits and values. */
export const DIMENSION_OF: Readonly<Record<Measurand, Dimension>> = {
  leak_rate: "leakRate",
  suction: "pressure",
  flow: "flow",
  power: "power",
  suction_power: "power",
  efficiency: "ratio",
  largest_suction_power: "power",
  suction_at_zero_flow: "pressure",
  flow_at_zero_suction: "flow",
};

/** All there are. */
export const MEASURANDS = Object.keys(DIMENSION_OF).filter(isMeasurand);

const CURVE_MEASURANDS: ReadonlySet<string> = new Set<CurveMeasurand>([
  "largest_suction_power",
  "suction_at_zero_flow",
  "flow_at_zero_suction",
]);

export function isMeasurand(value: unknown): value is Measurand {
  return typeof value === "string" && Object.hasOwn(DIMENSION_OF, value);
}

/** Whether it is taken from the curve through an airflow step's points, and so at none of them. */
export function isCurveMeasurand(measurand: Measurand): measurand is CurveMeasurand {
  return CURVE_MEASURANDS.has(measurand);
}

/** The kind of step that measures it. */
export function stepKindOf(measurand: Measurand): "leak" | "airflow" {
  return measurand === "leak_rate" ? "leak" : "airflow";
}
