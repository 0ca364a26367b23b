import type { Clock, Reading } from "../../drivers/ports.ts";
import type { AirflowPoint, AirflowStep, LeakStep, Step } from "../../limits/model.ts";
import type { FlowChannel } from "./airflow-readings.ts";
import type { PreparedAttempt } from "./attempt.ts";
import type { FillSeen } from "./fill-findings.ts";
import type { GaugeUncertainty } from "./gauge-comparison.ts";
import type { AirflowSamples } from "./point-watch.ts";
import type { Reason } from "./reason.ts";
import type { ValveTrial } from "./valve-findings.ts";
import type { VentSeen } from "./vent-findings.ts";
import type { CurveSamples, LookAtCurve, LooksTaken, Outcome } from "./watchers.ts";

export type PhaseName =
  | "rest"
  | "fill"
  | "settle"
  | "measure"
  | "gross"
  | "trial"
  | "compare"
  | "vent"
  | "run_up"
  | "hold"
  | "coast";

export interface PhaseRecord {
  readonly step: string;
  readonly phase: PhaseName;
  readonly point?: string;
  readonly start_s: number;
  readonly end_s: number;
}

/** What the steps yielded; judging turns it into characteristics. */
export interface LeakEvidence {
  readonly step: string;
  readonly fill?: FillSeen;
  readonly settle?: CurveSamples;
  readonly measure?: CurveSamples;
  /** The looks at `measure`; absent when none was taken. */
  readonly look?: LooksTaken;
  /** Decay after a fill that never reached its pressure. */
  readonly gross?: CurveSamples;
  /** A valve was found stuck after the body had lost its pressure: the loss says nothing of the unit. */
  readonly isOfFixture?: true;
  /** Absent where the test was broken off before the vent. */
  readonly vent?: VentSeen;
}

export interface AirflowEvidence {
  readonly step: string;
  readonly point: string;
  readonly samples: AirflowSamples;
}

export interface Ambient {
  readonly temperature_K: number;
  readonly pressure_Pa: number;
  readonly relativeHumidity: number;
  /** Who read and entered it, and when (ISO 8601); absent where an instrument was read. */
  readonly entered?: { readonly by: string; readonly at: string };
}

export interface UnitInput {
  readonly attempt: PreparedAttempt;
  readonly clock: Pick<Clock, "now_s" | "wall_ms">;
  /** Output name per orifice name; null for an orifice that opens nothing (closed inlet). */
  readonly orificeOutputs: ReadonlyMap<string, string | null>;
  /** Whether the characteristics of a finished step conform. */
  readonly stepConforms: (attempt: PreparedAttempt, evidence: UnitEvidence, step: Step) => boolean;
  /**
   * Called once when a measurement with early verdicts begins.
   * @returns what each look at its curve asks; null: measure to the end
   */
  readonly newLook: (attempt: PreparedAttempt, evidence: UnitEvidence, step: LeakStep) => LookAtCurve | null;
  /** The newest reading of leak_pressure in any phase; null before the first. */
  readonly newestPressure_Pa: () => number | null;
  /** The unit before, where its motor did not start; null where a motor has run since, or somebody has looked. */
  readonly motorStoodStill: () => string | null;
  /** Constant part of the channel's certificate, SI: no mean needs to be known better; 0 where there is none. */
  readonly scatterFloor: (channel: string) => number;
  readonly gaugeUncertainty: GaugeUncertainty;
  /** Where flow is read; null where it follows from the suction over the orifices. */
  readonly flowChannel: FlowChannel | null;
}

/** Everything an attempt has found, for judging and for the record. */
export interface UnitEvidence {
  readonly startedAt_ms: number;
  readonly start_s: number;
  readonly ambient: Ambient | null;
  readonly leaks: readonly LeakEvidence[];
  readonly airflow: readonly AirflowEvidence[];
  readonly phases: readonly PhaseRecord[];
  /** Failures found by a phase itself, not by a limit. */
  readonly fails: readonly Reason[];
  /** Why there is no valid measurement. */
  readonly voids: readonly Reason[];
}

export interface AttemptEvidence {
  readonly attempt: PreparedAttempt;
  readonly evidence: UnitEvidence;
}

export interface Recorded {
  readonly path: string;
  readonly sha256: string;
}

export type UnitOutput =
  | { readonly kind: "recorded"; readonly evidence: UnitEvidence; readonly recorded: Recorded }
  | { readonly kind: "not_recorded"; readonly evidence: UnitEvidence; readonly error: unknown };

export interface UnitContext extends UnitInput {
  readonly steps: readonly Step[];
  readonly stepIndex: number;
  readonly pointIndex: number;
  readonly evidence: UnitEvidence;
  readonly phase: { readonly name: PhaseName; readonly start_s: number } | null;
  /** Before the fill; null while it has not been read. */
  readonly sourceAtRest_Pa: number | null;
  /** The body with the source valve shut alone; null before. */
  readonly sourceShut: ValveTrial | null;
  /** The body with the source on it and the vent shut, after it had lost its pressure; null before. */
  readonly ventShut_Pa: number | null;
  /** Since the motor was switched on, for the first point, which has the same orifice; empty for the others. */
  readonly runUp: readonly Reading[];
  /** When the vent was told to open, and the gauge pressure it began with; null before. */
  readonly ventFrom: { readonly start_s: number; readonly pressure_Pa: number } | null;
  readonly recorded: Recorded | null;
  readonly error: unknown;
}

export type UnitEvent =
  | { readonly type: "OUTCOME"; readonly outcome: Outcome }
  | { readonly type: "FAULT"; readonly reason: Reason }
  | { readonly type: "ABORT"; readonly reason: Reason }
  | { readonly type: "GUARD_OPENED" };

/** On a reference piece only what it proves is run: the leak steps, or the one point of an orifice's certificate. */
export function stepsOf({ limits, reference }: PreparedAttempt): readonly Step[] {
  if (!reference) return limits.steps;
  const { orifice } = reference;
  if (!orifice) return limits.steps.filter((step) => step.kind === "leak");
  const [only] = limits.steps.flatMap((step) => {
    const point = step.kind === "airflow" && step.points.find(({ name }) => name === orifice.point);
    return point ? [{ ...step, points: [point] }] : [];
  });
  return only ? [only] : [];
}

export function currentStep(context: UnitContext): Step {
  const step = context.steps[context.stepIndex];
  if (!step) throw new Error(`There is no step ${context.stepIndex}.`);
  return step;
}

export function leakStep(context: UnitContext): LeakStep {
  const step = currentStep(context);
  if (step.kind !== "leak") throw new Error(`Step ${step.name} is not a leak step.`);
  return step;
}

export function airflowStep(context: UnitContext): AirflowStep {
  const step = currentStep(context);
  if (step.kind !== "airflow") throw new Error(`Step ${step.name} is not an airflow step.`);
  return step;
}

export function airflowPoint(context: UnitContext): AirflowPoint {
  const point = airflowStep(context).points[context.pointIndex];
  if (!point) throw new Error(`Step ${airflowStep(context).name} has no point ${context.pointIndex}.`);
  return point;
}

/** Any leak step's tolerance serves to see that the fixture has vented; without one, 200 Pa (a tenth of the smallest test pressures in use). */
export function ventedWithin(context: UnitContext): number {
  const step = context.steps.find((candidate) => candidate.kind === "leak");
  return step?.kind === "leak" ? step.ventedWithin_Pa : 200;
}

/** Input power of a motor that has stopped, of any airflow step. */
export function stoppedBelow(context: UnitContext): number {
  const step = context.steps.find((candidate) => candidate.kind === "airflow");
  return step?.kind === "airflow" ? step.stoppedBelow_W : 0;
}
