import type { Characteristic, ModelLimits } from "../../limits/model.ts";
import type { PreparedAttempt } from "../cycle/attempt.ts";
import { stepsOf } from "../cycle/unit-context.ts";

/** @returns what is run of the model's test and what it is held against: of a reference piece, its certificate's part */
export function judgedBy(attempt: PreparedAttempt): ModelLimits {
  const { limits, reference } = attempt;
  if (!reference) return limits;
  const steps = stepsOf(attempt);
  const { certified_m3_s, tolerance_m3_s, unit, orifice } = reference;
  const lower = certified_m3_s - tolerance_m3_s;
  const certificate = {
    // A tight piece may read below nothing, but only what it leaks is a limit to be drawn.
    ...(lower > 0 ? { lower } : {}),
    upper: certified_m3_s + tolerance_m3_s,
    unit,
    rule: { kind: "simple" as const },
  };
  const characteristics = steps.map(
    (step): Characteristic =>
      orifice
        ? { ...certificate, name: "reference flow", step: step.name, point: orifice.point, measurand: "flow" }
        : { ...certificate, name: "leak rate", step: step.name, measurand: "leak_rate" },
  );
  return { ...limits, steps, characteristics };
}
