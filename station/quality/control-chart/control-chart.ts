import type { Figure } from "../study-report.ts";
import type { Signal } from "./run-rules.ts";

/** One number for all points, or one for each where they differ. */
export type Level = number | readonly number[];

/** Points in their order with a centre line and control limits. */
export interface ControlChart {
  /** What its points are: "individual values", "means". */
  readonly name: string;
  readonly values: readonly number[];
  /** Number of the first point; moving ranges begin at 2. */
  readonly first: number;
  readonly CL: Level;
  readonly UCL: Level;
  readonly LCL: Level;
  readonly signals: readonly Signal[];
}

/** Charts of one set of values, with everything that was found on the way. */
export interface ChartedProcess {
  readonly title: string;
  /** What a point is: "point", "subgroup", "sample". */
  readonly noun: string;
  /** The one that says most first. */
  readonly charts: readonly ControlChart[];
  /** How many points the limits were estimated from; 0 where they were stated. */
  readonly estimatedFrom: number;
  readonly figures: Readonly<Record<string, Figure>>;
  readonly notes: readonly string[];
}

/** What may be stated of a process, and how its chart is drawn. */
export interface ChartOptions {
  /** Where it should stand; estimated where it is not stated. */
  readonly target?: number | undefined;
  /** Standard deviation of single values; estimated from what varies within a short time where it is not stated. */
  readonly sigma?: number | undefined;
  /** Distance of the control limits from the centre in standard deviations of a point; 3 unless stated. */
  readonly width?: number | undefined;
  /** So many points from the first on give the estimates; all unless stated. */
  readonly baseline?: number | undefined;
}

/** @example levelAt([1, 2], 1) // 2 */
export function levelAt(level: Level, i: number): number {
  return typeof level === "number" ? level : (level[i] ?? Number.NaN);
}

/** One number where all are the same. */
export function asLevel(values: readonly number[]): Level {
  const [first] = values;
  return first !== undefined && values.every((value) => value === first) ? first : values;
}
