/**
 * A limit file as the station uses it: checked, in SI, one per model. The reader (limit-file.ts) makes it from
 * YAML; nobody else does. Names carry the unit; pressures of steps are gauge pressures (relative to ambient),
 * negative when the unit is evacuated.
 */
export interface ModelLimits {
  readonly model: string;
  readonly title: string;
  readonly revision: number;
  /** ISO 8601 calendar date from which this revision may judge units. */
  readonly effectiveDate: string;
  readonly author: string;
  readonly reason: string;
  /** Anchored: the whole serial must match. */
  readonly serialPattern: RegExp;
  readonly serialExample: string;
  /** Internal volume of the closed body and its standard uncertainty. */
  readonly volume_m3: number;
  readonly volumeUncertainty_m3: number;
  /** Gauge pressure the body is rated for, same sign as the leak step's test pressure. */
  readonly ratedPressure_Pa: number;
  readonly steps: readonly Step[];
  readonly characteristics: readonly Characteristic[];
  readonly retest: RetestRule;
  readonly parts: readonly TrackedPart[];
  readonly source: LimitFileSource;
}

/** Where the limits came from; the SHA-256 is over the file's bytes. */
export interface LimitFileSource {
  readonly path: string;
  readonly sha256: string;
}

export type Step = LeakStep | AirflowStep;

export interface LeakStep {
  readonly kind: "leak";
  readonly name: string;
  readonly testPressure_Pa: number;
  readonly fillTolerance_Pa: number;
  /** Filled sooner than this, the way to the body is blocked. */
  readonly fillShortest_s: number;
  readonly fillLongest_s: number;
  /** No reading before its end counts for the measurement. */
  readonly settle_s: number;
  readonly method: LeakMethod;
  readonly measureLongest_s: number;
  /** Null: always measure to the end. */
  readonly earlyVerdict: EarlyVerdictRule | null;
  /** The unit counts as vented within this distance from ambient. */
  readonly ventedWithin_Pa: number;
  /** Vented sooner than this from the test pressure, the body was not what was vented. */
  readonly ventShortest_s: number;
  readonly ventLongest_s: number;
  /** What follows when this step's characteristics do not conform. */
  readonly ifFailed: "stop" | "continue";
}

/** How the leak rate is taken from the curve. */
export type LeakMethod =
  /** Heat, slow part and leak fitted together, with what the settle calibration knows. */
  | { readonly kind: "fitted" }
  /** Settle, then regression slope or difference of the ends; the learned mean curve taken off before, or not. */
  | { readonly kind: "slope" | "difference"; readonly subtractsMeanCurve: boolean };

/** When measuring may end before its longest time. */
export interface EarlyVerdictRule {
  readonly measureShortest_s: number;
  readonly lookEvery_s: number;
  /** Probability, over all looks together, of an early verdict "conforms" (or "does not") for a unit exactly at the limit. */
  readonly falseAccept: number;
  readonly falseReject: number;
}

export interface AirflowStep {
  readonly kind: "airflow";
  readonly name: string;
  readonly supplyVoltage_V: number;
  /** Allowed deviation either way; outside the unit is void, not failed. */
  readonly supplyTolerance_V: number;
  /** Input power above which the motor counts as started, below which as stopped. */
  readonly runningAbove_W: number;
  readonly runUpLongest_s: number;
  /** Suction and power are steady when their spread over the window, relative to their mean, is at most this. */
  readonly steadyWithin: number;
  readonly steadyWindow_s: number;
  readonly points: readonly AirflowPoint[];
  readonly coastLongest_s: number;
}

export interface AirflowPoint {
  readonly name: string;
  /** Name of an orifice of the station file. */
  readonly orifice: string;
  /** Steady samples averaged at this point, and the longest time to get them. */
  readonly samples: number;
  readonly holdLongest_s: number;
}

export type Measurand = "leak_rate" | "suction" | "flow" | "power";

/** A judged quantity. Limits are SI: leak_rate m3/s at the house reference, suction Pa (positive below ambient), flow m3/s, power W. */
export interface Characteristic {
  readonly name: string;
  readonly step: string;
  readonly measurand: Measurand;
  /** Airflow only: the point it is taken at. */
  readonly point?: string;
  readonly lower?: number;
  readonly upper?: number;
  /** Unit of the limit's text; values are shown in it. */
  readonly unit: string;
  readonly rule: DecisionRule;
}

/** JCGM 106:2012: simple acceptance (8.2), or guarded acceptance to a stated conformance probability (8.3). */
export type DecisionRule =
  | { readonly kind: "simple" }
  | { readonly kind: "guarded"; readonly conformance: number };

export interface RetestRule {
  /** Full tests allowed after a fail without rework. */
  readonly afterFail: number;
  /** Repeats allowed after a void (no valid measurement), which never count as fails. */
  readonly afterVoid: number;
}

export interface TrackedPart {
  readonly name: string;
  readonly pattern: RegExp;
  readonly required: boolean;
}
