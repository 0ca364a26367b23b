/** Codes under which a phase finds, before anything is judged, that a unit does not conform. */
export const FINDING_CODES = [
  "GROSS_LEAK",
  "UNIT_NOT_SEALED",
  "MOTOR_DID_NOT_START",
  "MOTOR_STAYS_SLOW",
  "MOTOR_DRAWS_TOO_MUCH",
] as const;

export type FindingCode = (typeof FINDING_CODES)[number];
