import type { AirflowStep, Characteristic, ModelLimits } from "../limits/model.ts";
import { airflowConditions } from "./cycle/airflow-judging.ts";
import type { StationKnowledge } from "./cycle/characteristic-result.ts";
import { foreseeAirflow } from "./measure/airflow/foreseen-airflow.ts";
import { ROOM_NOBODY_MEASURED } from "./measuring-time-warnings.ts";
import { type RoomForVerdicts, roomForVerdicts } from "./room-for-verdicts.ts";

export interface AirflowWarnings {
  readonly warnings: readonly {
    readonly characteristic: string;
    readonly rule: RoomForVerdicts["rule"];
    readonly sentence: string;
  }[];
  /** Characteristics whose uncertainty can't be foreseen. */
  readonly notForeseen: readonly string[];
}

/** Limits of suction, flow, power and what follows from them that are tighter than the station can measure. */
export function airflowWarnings(limits: ModelLimits, knowledge: StationKnowledge): AirflowWarnings {
  const found = limits.steps.flatMap((step) =>
    step.kind === "airflow" ? ofStep(step, limits, knowledge) : [],
  );
  return {
    warnings: found.flatMap(({ characteristic, relative }) => {
      if (relative === null) return [];
      const { name, lower, upper } = characteristic;
      const uncertainty = relative * Math.max(lower ?? 0, upper ?? 0);
      const room = roomForVerdicts(characteristic, uncertainty);
      if (!room) return [];
      const remedy =
        "set the limits further apart, or reduce the largest part of the uncertainty, which each traveller lists";
      return [{ characteristic: name, rule: room.rule, sentence: `${room.finding}: ${remedy}.` }];
    }),
    notForeseen: found.flatMap(({ characteristic, relative }) =>
      relative === null ? [characteristic.name] : [],
    ),
  };
}

function ofStep(
  step: AirflowStep,
  { characteristics }: ModelLimits,
  knowledge: StationKnowledge,
): { readonly characteristic: Characteristic; readonly relative: number | null }[] {
  const own = characteristics.filter((it) => it.step === step.name);
  const none = own.map((characteristic) => ({ characteristic, relative: null }));
  const conditions = airflowConditions(step, ROOM_NOBODY_MEASURED, knowledge);
  if (!conditions) return none;
  try {
    const relativeOf = foreseeAirflow(step, own, conditions, knowledge.openings);
    return own.map((characteristic) => ({ characteristic, relative: relativeOf(characteristic) }));
  } catch (error) {
    // An orifice, gauge or channel that the station has not.
    if (error instanceof RangeError) return none;
    throw error;
  }
}
