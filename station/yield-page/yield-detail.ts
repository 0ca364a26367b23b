/** What a page shows of some days besides their yield report: values, and the tests that failed. */
export interface YieldDetail {
  /** Leak rates first, by model; then what tells of the suction. */
  readonly measured: readonly MeasuredSeries[];
  /** Valid, trusted tests that failed, in the order of recording. */
  readonly failures: readonly FailedTest[];
  /** So many more failed than `failures` has. */
  readonly failuresLeftOut: number;
  /** What a reader must know of these. */
  readonly notes: readonly string[];
}

/** A quantity of a model at units' first valid, trusted inspections. Numbers are in `unit`, nothing is NaN. */
export interface MeasuredSeries {
  readonly model: string;
  readonly characteristic: string;
  readonly measurand: string;
  readonly unit: string;
  /** Of the newest inspection. */
  readonly lower: number | null;
  readonly upper: number | null;
  /** Accepted up to, and from: the limits less the guard band at the median uncertainty; the limits where nothing is guarded. */
  readonly acceptedFrom: number | null;
  readonly acceptedTo: number | null;
  /** Probability of conformance that is asked for; null for simple acceptance. */
  readonly conformance: number | null;
  /** Whether inspections of these days were held against other limits, too. */
  readonly limitsChanged: boolean;
  /** In the order of recording, one for each unit that has a value. */
  readonly values: readonly number[];
  /** Whether each passed. */
  readonly passed: readonly boolean[];
  readonly serials: readonly string[];
  readonly at_ms: readonly number[];
  /** Units inspected that have no value: a leak too large to be measured, a step that was not gone through. */
  readonly withoutValue: number;
}

export interface FailedTest {
  readonly serial: string;
  readonly model: string;
  readonly at: string;
  readonly attempt: number;
  readonly kind: "first" | "retest" | "after_rework";
  /** What it failed by, in the words of the Pareto. */
  readonly failedBy: readonly string[];
  /** What it is suspected of before anything else. */
  readonly suspect: string | null;
  /** What has become of the unit, as things stand. */
  readonly now: string;
  /** The traveller's file, relative to the records folder. */
  readonly path: string;
}
