import type { CheckInForce } from "./checks-in-force.ts";
import { localTime } from "./local-time.ts";
import type { Traveller } from "./traveller.ts";

const SHOWN_DIGITS = 12;

/** What a verdict rests on besides its values: limits, parts, gauges, and the reference check that was in force; times are local. */
export function evidenceLines(
  { limit_file, parts, gauges, reference_check, kind, station }: Traveller,
  checks: ReadonlyMap<string, CheckInForce>,
): string[] {
  const approved =
    limit_file.approved_by === null ? "nobody's approval" : `approved by ${limit_file.approved_by}`;
  const tracked = Object.entries(parts).map(([name, value]) => `${name} ${value}`);
  const instruments = gauges.map(({ name, identity, calibration_due }) => {
    const due = calibration_due === null ? "no calibration date" : `calibration due ${calibration_due}`;
    return `${name} (${identity === "" ? due : `${identity}, ${due}`})`;
  });
  const simulated = station.simulated ? ", SIMULATED" : "";
  return [
    `station: ${station.name}${simulated}; limits: ${limit_file.model} revision ${limit_file.revision}, ${approved}`,
    ...(tracked.length > 0 ? [`parts: ${tracked.join(", ")}`] : []),
    ...(instruments.length > 0 ? [`gauges: ${instruments.join(", ")}`] : []),
    ...(kind === "reference" ? [] : [checkLine(reference_check, checks)]),
  ];
}

/** @example "reference check: 2026-01-05 06:30:00, REF-LEAK-POD-4 pass by A. Marsh" */
function checkLine(check: Traveller["reference_check"], checks: ReadonlyMap<string, CheckInForce>): string {
  if (check === null) return "reference check: none was in force";
  const pieces = check.travellers.map((sha256) => {
    const found = checks.get(sha256);
    if (!found) return `traveller ${sha256.slice(0, SHOWN_DIGITS)}..., not found by the index`;
    return `${found.piece} ${found.verdict}${found.by === null ? "" : ` by ${found.by}`}`;
  });
  return `reference check: ${[localTime(check.at), ...pieces].join(", ")}`;
}
