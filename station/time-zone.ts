import { UsageError } from "./explain.ts";

/**
 * Makes a plant's time zone the program's: every local day, shift and time from here on is that zone's, whatever the computer's
 * is. For the command line's edge, before any time is looked at.
 * @param zone IANA name, "Europe/Berlin"
 * @throws UsageError for a name that the program does not know
 */
export function takeTimeZone(zone: string): void {
  const problem = timeZoneProblem(zone);
  if (problem !== null) throw new UsageError(`The time zone ${JSON.stringify(zone)} ${problem}.`);
  process.env.TZ = zone;
}

/** @returns the IANA name of the zone whose local times the program tells */
export function timeZoneInForce(): string {
  // As it was named: the program's own name for Asia/Kolkata is an old one.
  const { TZ } = process.env;
  return TZ !== undefined && timeZoneProblem(TZ) === null ? TZ : (ownZone() ?? "UTC");
}

/**
 * @returns what is wrong with a time zone's name; null where nothing is
 * @example timeZoneProblem("europe/berlin") // 'is written "Europe/Berlin"'
 */
export function timeZoneProblem(zone: string): string | null {
  // Offsets such as "+01:00" mean the opposite to other programs, and have no summer time.
  const found = /^[A-Za-z]/.test(zone) ? named(zone) : null;
  if (found === null) return 'is not known: give an IANA name like "Europe/Berlin"';
  if (found !== zone && found.toLowerCase() === zone.toLowerCase())
    return `is written ${JSON.stringify(found)}`;
  return isTakenAsLocal(zone, found)
    ? null
    : 'is not written as it should be: give an IANA name like "Europe/Berlin"';
}

function named(zone: string): string | null {
  try {
    return new Intl.DateTimeFormat("en", { timeZone: zone }).resolvedOptions().timeZone;
  } catch {
    return null;
  }
}

/** A name that differs in capitals alone is known, but as the local zone it would be UTC without a word. */
function isTakenAsLocal(zone: string, found: string): boolean {
  const before = process.env.TZ;
  try {
    process.env.TZ = zone;
    return ownZone() === found;
  } finally {
    if (before === undefined) delete process.env.TZ;
    else process.env.TZ = before;
  }
}

/** Undefined for a zone that can't be told. */
function ownZone(): string | undefined {
  return new Intl.DateTimeFormat("en").resolvedOptions().timeZone;
}
