import { bodyDesign } from "../../sim/bodies.ts";
import type { Cleaner } from "../../sim/plant/airflow.ts";

/** A cleaner of a model as it was designed, tight, with some of it changed. */
export function soundCleaner(model: string, change: Partial<Cleaner> = {}): Cleaner {
  const { fan, inletResistance, filterResistance } = bodyDesign(model);
  return {
    fan,
    speedFactor: 1,
    powerFactor: 1,
    runUpFactor: 1,
    shortedLoss_W: 0,
    inletResistance,
    filterResistance,
    leakPaths: [],
    ...change,
  };
}
