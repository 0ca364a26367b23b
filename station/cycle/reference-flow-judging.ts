import type { AirflowStep, Characteristic } from "../../limits/model.ts";
import { referenceFlow } from "../measure/airflow/reference-flow.ts";
import type { Measured } from "../measure/fit/propagation.ts";
import { type AirflowResult, measureAirflowStep } from "./airflow-judging.ts";
import type { ReferencePiece } from "./attempt.ts";
import {
  type CharacteristicResult,
  judged,
  notMeasured,
  type StationKnowledge,
} from "./characteristic-result.ts";
import type { Reason } from "./reason.ts";
import type { UnitEvidence } from "./unit-context.ts";

export interface ReferenceFlowResult {
  readonly characteristic: CharacteristicResult;
  readonly airflow: readonly AirflowResult[];
  /** Why the reading proves nothing, either way. */
  readonly doubts: readonly Reason[];
}

/**
 * A reference orifice's flow, brought to its certificate's suction and air, against certified value and tolerance.
 * @param step the model's airflow step with the one point at which the piece is held
 */
export function judgeReferenceFlow(
  { serial, certified_m3_s, tolerance_m3_s, unit }: ReferencePiece,
  { point, atSuction_Pa }: NonNullable<ReferencePiece["orifice"]>,
  step: AirflowStep,
  evidence: UnitEvidence,
  station: StationKnowledge,
): ReferenceFlowResult {
  const characteristic: Characteristic = {
    name: "reference flow",
    step: step.name,
    point,
    measurand: "flow",
    lower: certified_m3_s - tolerance_m3_s,
    upper: certified_m3_s + tolerance_m3_s,
    unit,
    rule: { kind: "simple" },
  };
  const result = measureAirflowStep(step, evidence, station);
  if ("kind" in result) {
    return { characteristic: notMeasured(characteristic, result.why), airflow: [], doubts: [] };
  }
  const flow = flowOf(result, atSuction_Pa);
  if ("why" in flow) {
    const sentence = `${flow.why} Look whether ${serial} has its own orifice in front of the inlet, and at hoses and shutters, then test it again.`;
    return {
      characteristic: notMeasured(characteristic, flow.why),
      airflow: [result],
      doubts: [{ code: "NOT_TRUSTED", sentence }],
    };
  }
  const judgement = judged(characteristic, flow.value, flow.uncertainty, flow.budget);
  // As likely outside as not, whatever it reads: that proves nothing.
  const isVague = !(2 * flow.uncertainty <= tolerance_m3_s);
  const why = "its uncertainty is more than the tolerance, too much to prove anything";
  return {
    characteristic: isVague ? { ...judgement, verdict: "void", why, conformance: null } : judgement,
    airflow: [result],
    doubts: [],
  };
}

function flowOf(
  { points, conditions }: AirflowResult,
  atSuction_Pa: number,
): Measured | { readonly why: string } {
  const [held] = points;
  if (!held) return { why: "The point was not reached." };
  try {
    return referenceFlow(held.means, conditions, atSuction_Pa);
  } catch (error) {
    if (error instanceof RangeError) return { why: error.message };
    throw error;
  }
}
