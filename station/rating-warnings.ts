import { escaped } from "../limits/escaped-text.ts";
import type { ModelLimits } from "../limits/model.ts";
import { formatQuantity } from "../limits/print-quantity.ts";

export interface RatingWarning {
  readonly characteristic: string | null;
  readonly rule: "rated pressure";
  readonly sentence: string;
}

/** Where a test that keeps to its file may still take a body beyond what it is rated for. */
export function ratingWarnings(limits: ModelLimits): RatingWarning[] {
  const { ratedPressure_Pa: rated_Pa } = limits;
  const ofSteps = limits.steps.flatMap((step): RatingWarning[] => {
    if (step.kind !== "leak") return [];
    const most_Pa = Math.abs(step.testPressure_Pa) + step.fillTolerance_Pa;
    if (most_Pa <= Math.abs(rated_Pa)) return [];
    const reached = kilopascals(Math.sign(rated_Pa) * most_Pa);
    const sentence = `Step ${step.name} may fill to ${reached}, its test pressure and the fill tolerance, and the body is rated for ${kilopascals(rated_Pa)}: lower one of them.`;
    return [{ characteristic: null, rule: "rated pressure", sentence: escaped(sentence) }];
  });
  if (rated_Pa >= 0) return ofSteps;
  const ofMotor = limits.characteristics.flatMap(({ name, measurand, lower }): RatingWarning[] => {
    const isSuction = measurand === "suction" || measurand === "suction_at_zero_flow";
    if (!isSuction || lower === undefined || lower <= -rated_Pa) return [];
    const sentence = `A unit passes from ${kilopascals(lower)} of suction on, and its body is rated for ${kilopascals(rated_Pa)} only: have the rating or the limit put right before a unit is run.`;
    return [{ characteristic: name, rule: "rated pressure", sentence }];
  });
  return [...ofSteps, ...ofMotor];
}

function kilopascals(pressure_Pa: number): string {
  return formatQuantity(pressure_Pa, "pressure", "kPa", { significant: 4 });
}
