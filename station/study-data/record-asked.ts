import { localDay, localTime } from "../records/local-time.ts";
import type { Traveller } from "../records/traveller.ts";
import { shiftAt } from "../shift-times.ts";

/** Which values of a records folder a study is about. */
export interface RecordsQuery {
  readonly folder: string;
  readonly model: string;
  /** A characteristic's name in the limit file, or what it measures where only one does: "leak rate", "leak_rate". */
  readonly characteristic: string;
  /** First and last day on which an attempt may have begun, like 2026-01-05, by the local calendar. */
  readonly from?: string | undefined;
  readonly to?: string | undefined;
  /** Begins of shifts as the station file has them, "06:00"; empty where none is given. */
  readonly shifts: readonly string[];
  /** Only attempts begun in the shift with this begin. */
  readonly shift?: string | undefined;
  /** Only units with these tracked parts. */
  readonly parts: ReadonlyMap<string, string>;
  /** `first`: each unit once, as it was at its first valid test. */
  readonly attempts: "first" | "all";
  /** Attempts on draft limits, too, which count nowhere else. */
  readonly withDrafts: boolean;
  /** "station", "shift", "day" or a tracked part. */
  readonly by?: string | undefined;
}

/** A characteristic as a traveller has it. */
export type Measured = Traveller["characteristics"][number];

/** @returns the characteristic that is asked for, undefined where the traveller has none or can't tell which */
export function measuredIn({ characteristics }: Traveller, asked: string): Measured | undefined {
  const named = characteristics.find(({ name }) => sameName(name, asked));
  if (named) return named;
  const alike = characteristics.filter(({ measurand }) => sameName(measurand, asked));
  return alike.length === 1 ? alike[0] : undefined;
}

function sameName(a: string, b: string): boolean {
  return a.toLowerCase().replaceAll("_", " ") === b.toLowerCase().replaceAll("_", " ");
}

/**
 * @returns the name of the traveller's group; undefined where it has no such part
 * @example groupOf(traveller, { by: "shift", shifts: ["06:00", "14:00"] }) // "06:00"
 */
export function groupOf(
  { started_at, parts, station }: Traveller,
  { by, shifts }: Pick<RecordsQuery, "by" | "shifts">,
): string | undefined {
  if (by === undefined) return "";
  if (by === "station") return station.name;
  if (by === "day") return localDay(started_at);
  if (by === "shift") return shiftOf(started_at, shifts);
  return parts[by];
}

/** @returns the begin of the shift, like "06:00" */
export function shiftOf(instant: string, shifts: readonly string[]): string {
  const { from_ms } = shiftAt(shifts, Date.parse(instant));
  return localTime(new Date(from_ms).toISOString()).slice(11, 16);
}
