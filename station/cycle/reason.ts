import type { FindingCode } from "../../limits/finding-code.ts";

/** Why a unit failed, was void, or could not be started. Codes are for programs, sentences for people at the station. */
export interface Reason {
  readonly code: ReasonCode;
  readonly sentence: string;
  /** Name of the gauge or I/O block at fault, where it is one: its conversation may be looked at. */
  readonly instrument?: string;
}

export type ReasonCode =
  // the unit does not conform
  | "OUT_OF_LIMITS"
  | FindingCode
  // no valid measurement
  | "SOURCE_FAULT"
  | "OVERFILLED"
  | "TOO_FEW_SAMPLES"
  | "GAUGE_FROZEN"
  | "GAUGE_INVALID"
  | "GAUGE_OVER_RANGE"
  | "GAUGE_JUMPED"
  | "READINGS_HELD_UP"
  | "PHASE_SILENT"
  | "NOT_STEADY"
  | "SUPPLY_OUT_OF_TOLERANCE"
  | "NOT_TRUSTED"
  | "NOT_MEASURED"
  | "ABORTED"
  | "PROGRAM_STOPPED"
  | "SAFE_NOT_SEEN"
  | "GUARD_OPENED"
  | "INTERRUPTED"
  // the fixture is at fault: the station stops until somebody looks
  | "BLOCKED_FIXTURE"
  | "VALVE_STUCK"
  | "GAUGES_DISAGREE"
  | "NO_MOTOR_STARTS"
  | "INSTRUMENT_FAULT"
  | "OUTPUT_FAULT"
  | "VENT_NOT_COMPLETED"
  | "MOTOR_STILL_RUNNING"
  | "RECORD_NOT_WRITTEN"
  | "HOLD_NOT_WRITTEN"
  | "START_BUTTON_STUCK"
  // so many units in a row failed alike that the station itself is in doubt
  | "SAME_FAIL_IN_A_ROW"
  // refusals before the start
  | "NOT_SIGNED_IN"
  | "NOT_ALLOWED"
  | "NO_UNIT"
  | "STATION_FAULTED"
  | "BUSY"
  | "NOT_ASKED_FOR"
  | "OTHER_APPRAISER"
  | "STUDY_DONE"
  | "STUDY_LIMITS_CHANGED"
  | "SCAN_TOO_LONG"
  | "UNKNOWN_SERIAL"
  | "AMBIGUOUS_SERIAL"
  | "UNKNOWN_SCAN"
  | "AMBIGUOUS_SCAN"
  | "CHECK_CHARACTER_WRONG"
  | "BAD_PART"
  | "PART_MISSING"
  | "NOT_IN_FORCE"
  | "NOT_APPROVED"
  | "LIMITS_UNUSABLE"
  | "CALIBRATION_OVERDUE"
  | "CALIBRATION_UNUSABLE"
  | "NOT_CALIBRATED"
  | "REFERENCE_CHECK_DUE"
  | "AMBIENT_DUE"
  | "GUARD_OPEN"
  | "NOT_AT_AMBIENT"
  | "DISK_SPACE_LOW"
  | "ALREADY_PASSED"
  | "ATTEMPTS_USED_UP"
  | "VOIDS_USED_UP"
  | "RETEST_REASON_MISSING"
  | "RETEST_TOO_SOON"
  | "HELD"
  | "SCRAPPED";

/** Faults after which the station stays stopped until they are acknowledged. */
const STOPPING: ReadonlySet<string> = new Set<ReasonCode>([
  "SOURCE_FAULT",
  "BLOCKED_FIXTURE",
  "VALVE_STUCK",
  "GAUGES_DISAGREE",
  "NO_MOTOR_STARTS",
  "GAUGE_FROZEN",
  "GAUGE_INVALID",
  "GAUGE_OVER_RANGE",
  "GAUGE_JUMPED",
  "PHASE_SILENT",
  "INSTRUMENT_FAULT",
  "OUTPUT_FAULT",
  "VENT_NOT_COMPLETED",
  "MOTOR_STILL_RUNNING",
  "RECORD_NOT_WRITTEN",
  "HOLD_NOT_WRITTEN",
  "START_BUTTON_STUCK",
  "SAME_FAIL_IN_A_ROW",
]);

/** @returns whether the station must not start another unit before somebody acknowledged this */
export function stopsStation({ code }: { readonly code: string }): boolean {
  return STOPPING.has(code);
}
