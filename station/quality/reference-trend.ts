import { formatNumber } from "../../limits/print-quantity.ts";
import { ewma, ewmaVariance } from "./control-chart/ewma.ts";

/** One valid reading of a reference piece, in its certificate's unit. */
export interface ReferenceReading {
  /** Null where there was no number, as of a gross leak. */
  readonly measured: number | null;
  readonly certified: number;
  readonly tolerance: number;
  readonly unit: string;
}

/** How a piece's readings go, in its certificate's unit. */
export interface ReferenceTrend {
  /** What the piece reads nowadays: its readings, exponentially weighted. */
  readonly ewma: number;
  readonly certified: number;
  readonly tolerance: number;
  readonly unit: string;
  /** A sentence for the quality engineer, before the piece fails; null while there is nothing to say. */
  readonly warning: string | null;
  /** The newest that conformed, oldest first, at most 30. */
  readonly readings: readonly number[];
}

/** Weight of the newest reading: a step shows by nine tenths after ten readings. */
const LAMBDA = 0.2;
const MOST_READINGS = 30;
/** The piece's own first readings, which say where it stands on a sound station and how far it scatters. */
const FIRST = 8;
/**
 * How many standard errors from those first readings' mean are too many. Both it and their scatter come from eight readings, so
 * this is Student's t of 7 degrees of freedom, exceeded once in a thousand by chance either way (scipy: 4.7853).
 */
const SURE = 4.785;
/** Smaller changes say something of the room or the season, and nothing of a check's worth; part of the tolerance. */
const LEAST_CHANGE = 0.2;
/** So much of the tolerance gone, and it is time to look for the cause; a sound piece may stand off by some four tenths. */
const WORN = 0.6;
/** An average of fewer is a reading. */
const LEAST_READINGS = 4;

/**
 * Average and warning of a piece's readings since its certificate has said what it says now. Readings outside the tolerance
 * are failures and told as such; here they are left out, since one piece put on badly would be heard of for a dozen checks.
 * @param readings valid ones, oldest first
 * @returns null without a reading that conformed
 */
export function referenceTrend(serial: string, readings: readonly ReferenceReading[]): ReferenceTrend | null {
  const newest = readings.at(-1);
  if (!newest) return null;
  const { certified, tolerance, unit } = newest;
  const values = sinceCertified(readings, newest).flatMap(({ measured }) =>
    measured !== null && Math.abs(measured - certified) <= tolerance ? [measured] : [],
  );
  if (values.length === 0) return null;
  const first = values.slice(0, FIRST);
  const since = values.slice(FIRST).slice(-MOST_READINGS);
  const start = mean(first);
  const average = ewma(since, { lambda: LAMBDA, start }).at(-1) ?? start;
  const says = `certified ${number(certified)} +- ${number(tolerance)} ${unit}. Production goes on; tell the quality engineer before it fails.`;
  const warn = () => {
    if (values.length >= LEAST_READINGS && Math.abs(average - certified) > WORN * tolerance)
      return `${serial} has drifted: averages ${number(average)}, ${says}`;
    if (isOutOfControl(first, since.length, average, tolerance))
      return `${serial} reads other than it did: averages ${number(average)}, in its first ${FIRST} checks ${number(start)}, ${says}`;
    return null;
  };
  return {
    ewma: average,
    certified,
    tolerance,
    unit,
    warning: warn(),
    readings: values.slice(-MOST_READINGS),
  };
}

/** Another certificate is another piece. */
function sinceCertified(
  readings: readonly ReferenceReading[],
  { certified, tolerance, unit }: ReferenceReading,
): readonly ReferenceReading[] {
  const other = readings.findLastIndex(
    (it) => it.certified !== certified || it.tolerance !== tolerance || it.unit !== unit,
  );
  return readings.slice(other + 1);
}

/** Whether the average has left the control limits around the piece's own first readings, by a change that matters. */
function isOutOfControl(
  first: readonly number[],
  count: number,
  average: number,
  tolerance: number,
): boolean {
  if (count === 0) return false;
  const centre = mean(first);
  const variance = first.reduce((sum, value) => sum + (value - centre) ** 2, 0) / (FIRST - 1);
  const error = Math.sqrt(variance * (ewmaVariance(LAMBDA, count) + 1 / FIRST));
  return Math.abs(average - centre) > Math.max(SURE * error, LEAST_CHANGE * tolerance);
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

function number(value: number): string {
  return formatNumber(value, { significant: 3 });
}
