import type { FillSeen } from "./fill-findings.ts";
import { median } from "./fill-watch.ts";
import { comparisonFinding } from "./gauge-comparison.ts";
import type { Reason } from "./reason.ts";
import {
  currentStep,
  type LeakEvidence,
  leakStep,
  type UnitContext,
  type UnitEvent,
} from "./unit-context.ts";
import { heldFinding, shutValveFinding, ventTrialFinding } from "./valve-findings.ts";
import type { VentSeen } from "./vent-findings.ts";

// What an outcome says, with what the unit's machine has kept of the step so far; null for an outcome of another kind.

export function leakSoFar(context: UnitContext): LeakEvidence {
  const step = currentStep(context).name;
  return context.evidence.leaks.find((leak) => leak.step === step) ?? { step };
}

/** The source's pressure before the fill, by all that was read of it so far. */
export function sourceSeen_Pa({ sourceShut }: UnitContext, event: UnitEvent): number | null {
  if (event.type !== "OUTCOME" || event.outcome.kind !== "valve_trial") return null;
  return median([...(sourceShut?.source_Pa ?? []), ...event.outcome.trial.source_Pa]);
}

export function isTrial(event: UnitEvent): boolean {
  return event.type === "OUTCOME" && event.outcome.kind === "valve_trial";
}

export function valveReason(context: UnitContext, event: UnitEvent): Reason | null {
  if (event.type !== "OUTCOME" || event.outcome.kind !== "valve_trial" || !context.sourceShut) return null;
  return shutValveFinding(context.sourceShut, event.outcome.trial, leakStep(context));
}

export function heldReason(context: UnitContext, event: UnitEvent): Reason | null {
  if (event.type !== "OUTCOME" || event.outcome.kind !== "curve") return null;
  const { fill } = leakSoFar(context);
  return fill ? heldFinding(event.outcome.curve, fill, leakStep(context)) : null;
}

export function ventStuckReason(context: UnitContext, event: UnitEvent): Reason | null {
  const { ventShut_Pa: shut_Pa, scatterFloor } = context;
  if (event.type !== "OUTCOME" || event.outcome.kind !== "pressure" || shut_Pa === null) return null;
  const trial = { shut_Pa, open_Pa: event.outcome.pressure_Pa };
  return ventTrialFinding(trial, leakStep(context), scatterFloor("leak_pressure"));
}

export function comparisonReason(context: UnitContext, event: UnitEvent): Reason | null {
  if (event.type !== "OUTCOME" || event.outcome.kind !== "comparison") return null;
  return comparisonFinding(event.outcome.compared, leakStep(context), context.gaugeUncertainty);
}

export function fillSeen({ sourceAtRest_Pa }: UnitContext, event: UnitEvent): FillSeen | null {
  if (event.type !== "OUTCOME" || event.outcome.kind !== "fill" || sourceAtRest_Pa === null) return null;
  return { ...event.outcome.fill, sourceAtRest_Pa };
}

export function ventSeen({ ventFrom }: UnitContext, event: UnitEvent): VentSeen | null {
  if (event.type !== "OUTCOME" || event.outcome.kind !== "vented" || !ventFrom) return null;
  return { from_Pa: ventFrom.pressure_Pa, took_s: event.outcome.at_s - ventFrom.start_s };
}
