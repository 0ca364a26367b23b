import type { RandomStream } from "../../sim/random.ts";

/** When a victim is to die. Times count from the moment that is named, in seconds. */
export type Moment =
  /** After its process was started: while it loads, opens the records, connects. */
  | { readonly kind: "start"; readonly after_s: number }
  /** After it told of a phase of its first unit. */
  | { readonly kind: "phase"; readonly phase: string; readonly after_s: number }
  /** After it told of its first unit's verdict: while it tidies up, takes the next unit and tests it. */
  | { readonly kind: "verdict"; readonly after_s: number }
  /** Before one of its file operations in the records folder, counted from 1; by its own hand, so that none is missed. */
  | { readonly kind: "disk"; readonly operation: number }
  /** After it was asked to stop by SIGTERM in a phase: while it puts things in order. */
  | { readonly kind: "stopping"; readonly phase: string; readonly after_s: number };

const START_s = 2;
/** A little less than the fast model's unit takes. */
const UNIT_s = 11;
const COAST_s = 1.2;
const RECORDING_s = 0.08;
const TIDYING_s = 0.3;
/** About two units' worth, the start included. */
const OPERATIONS = 90;
const STOPPING_s = 0.5;
const STOPPED_IN = ["fill", "measure", "run_up", "coast", "recording"] as const;

/**
 * A moment at random: half of them after a verdict or where the records are written, the others anywhere in a unit, while it
 * starts, at a named file operation, or while it stops.
 */
export function drawMoment(random: RandomStream): Moment {
  const kind = random.uniform();
  if (kind < 0.08) return { kind: "start", after_s: random.between(0, START_s) };
  if (kind < 0.22) return { kind: "phase", phase: "opening", after_s: random.between(0, UNIT_s) };
  if (kind < 0.3) return { kind: "phase", phase: "coast", after_s: random.between(0, COAST_s) };
  if (kind < 0.46) return { kind: "phase", phase: "recording", after_s: random.between(0, RECORDING_s) };
  if (kind < 0.64) return { kind: "verdict", after_s: random.between(0, TIDYING_s) };
  if (kind < 0.82) return { kind: "verdict", after_s: random.between(0, UNIT_s) };
  if (kind < 0.94) return { kind: "disk", operation: 1 + Math.floor(random.between(0, OPERATIONS)) };
  return { kind: "stopping", phase: random.pick(STOPPED_IN), after_s: random.between(0, STOPPING_s) };
}

/** @example momentText({ kind: "phase", phase: "coast", after_s: 0.25 }) // "0.250 s after coast" */
export function momentText(moment: Moment): string {
  switch (moment.kind) {
    case "start":
      return `${moment.after_s.toFixed(3)} s after its start`;
    case "phase":
      return `${moment.after_s.toFixed(3)} s after ${moment.phase}`;
    case "verdict":
      return `${moment.after_s.toFixed(3)} s after a verdict`;
    case "disk":
      return `before file operation ${moment.operation}`;
    case "stopping":
      return `${moment.after_s.toFixed(3)} s after SIGTERM in ${moment.phase}`;
  }
}
