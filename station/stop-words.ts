import type { ReasonCode } from "./cycle/reason.ts";

/** What of a stopped station is safe, and what nobody may rely on. */
export interface StopWords {
  /** @example "outputs safe" */
  readonly what: string;
  /** What to do first where something is not known to be safe, in clauses; empty where all is. */
  readonly beware: readonly string[];
}

/**
 * Codes under which the body may hold pressure or suction although the vent stands commanded open: the vent was not
 * completed, or nobody saw that it was. A gauge that stands still near zero shows a vent that need not have happened.
 */
const MAY_BE_TRAPPED: readonly ReasonCode[] = [
  "VENT_NOT_COMPLETED",
  "BLOCKED_FIXTURE",
  "GAUGE_FROZEN",
  "GAUGE_INVALID",
  "GAUGE_OVER_RANGE",
  "GAUGE_JUMPED",
  "PHASE_SILENT",
];

/**
 * @param codes why the station is stopped
 * @param areOutputsSafe as the I/O block has confirmed them since
 * @example stopWords(["OUTPUT_FAULT"], false)
 * // { what: "outputs NOT confirmed", beware: ["treat the fixture as live"] }
 */
export function stopWords(codes: readonly ReasonCode[], areOutputsSafe: boolean): StopWords {
  const what: string[] = [];
  const beware: string[] = [];
  if (!areOutputsSafe || codes.includes("OUTPUT_FAULT")) {
    what.push("outputs NOT confirmed");
    beware.push("treat the fixture as live");
  }
  if (codes.includes("MOTOR_STILL_RUNNING")) {
    what.push("the motor may still run");
    beware.push("do not reach in");
  }
  if (codes.some((code) => MAY_BE_TRAPPED.includes(code))) {
    what.push("pressure may be trapped in the body");
    beware.push("do not open");
  }
  return { what: what.join(", ") || "outputs safe", beware };
}
