import type { SnapshotFrom } from "xstate";
import type { AirflowPoint, Step } from "../../limits/model.ts";
import type { PhaseName } from "./unit-context.ts";
import type { unitMachine } from "./unit-machine.ts";

/** Where a running test is, for whoever shows it. */
export interface UnitProgress {
  /** A phase of the limit file's steps, or what the station does around them. */
  readonly phase: PhaseName | "opening" | "ambient" | "safing" | "recording";
  /** Null outside the steps. */
  readonly step: Step | null;
  /** The airflow point being approached or held. */
  readonly point: AirflowPoint | null;
  /** Since the phase began; null outside the steps. */
  readonly elapsed_s: number | null;
}

/** @param now_s of the clock the machine runs on */
export function unitProgress(
  { value, context }: Pick<SnapshotFrom<typeof unitMachine>, "value" | "context">,
  now_s: number,
): UnitProgress {
  const { phase, steps, stepIndex, pointIndex } = context;
  if (!phase) return { phase: aroundSteps(value), step: null, point: null, elapsed_s: null };
  const step = steps[stepIndex] ?? null;
  const isAtPoint = step?.kind === "airflow" && (phase.name === "run_up" || phase.name === "hold");
  return {
    phase: phase.name,
    step,
    point: isAtPoint ? (step.points[pointIndex] ?? null) : null,
    elapsed_s: Math.max(0, now_s - phase.start_s),
  };
}

function aroundSteps(value: unknown): "opening" | "ambient" | "safing" | "recording" {
  if (value === "opening") return "opening";
  if (typeof value === "string") return "recording";
  return typeof value === "object" && value !== null && "safing" in value ? "safing" : "ambient";
}
