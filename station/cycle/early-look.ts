import type { LeakStep } from "../../limits/model.ts";
import { LeakLooks } from "../measure/leak/leak-looks.ts";
import type { PreparedAttempt } from "./attempt.ts";
import type { StationKnowledge } from "./characteristic-result.ts";
import { leakConditions, sinceShutOff } from "./leak-judging.ts";
import type { UnitEvidence } from "./unit-context.ts";
import type { LookAtCurve } from "./watchers.ts";

/**
 * What the station asks at each look at a leak's curve.
 * @returns null where the limit file wants no early verdict, and for reference pieces, which are measured to the end
 */
export function lookAtLeak(
  attempt: PreparedAttempt,
  evidence: UnitEvidence,
  step: LeakStep,
  station: StationKnowledge,
): LookAtCurve | null {
  const { earlyVerdict: rule, measureLongest_s, method } = step;
  const conditions = leakConditions(step, attempt, evidence, station);
  const limits = attempt.limits.characteristics.filter(
    (characteristic) => characteristic.step === step.name && characteristic.measurand === "leak_rate",
  );
  if (!rule || attempt.reference || !conditions || limits.length === 0) return null;
  const looks = new LeakLooks({ limits, rule, measureLongest_s, method, conditions });
  return (samples) => {
    const [first_us = 0] = samples.t_us;
    const elapsed_s = ((samples.t_us.at(-1) ?? first_us) - first_us) / 1e6;
    return looks.take(sinceShutOff(samples, step, evidence), elapsed_s);
  };
}
