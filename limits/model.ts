import type { FindingCode } from "./finding-code.ts";

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
  /** What the serial's last characters prove; null where they prove nothing. */
  readonly serialCheck: CheckScheme | null;
  readonly serialExample: string;
  /** Internal volume of the closed body and its standard uncertainty. */
  readonly volume_m3: number;
  readonly volumeUncertainty_m3: number;
  /** Gauge pressure the body is rated for, same sign as the leak step's test pressure. */
  readonly ratedPressure_Pa: number;
  readonly steps: readonly Step[];
  readonly characteristics: readonly Characteristic[];
  /** In the order in which those that fit are told. */
  readonly suspects: readonly SuspectRule[];
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
  /** Voltage that results are stated at. */
  readonly supplyVoltage_V: number;
  /** Allowed deviation either way; outside the unit is void, not failed. */
  readonly supplyTolerance_V: number;
  /** Input power above which the motor counts as started. */
  readonly runningAbove_W: number;
  /** Input power below which it counts as stopped. */
  readonly stoppedBelow_W: number;
  /** Input power that a sound motor never draws once its inrush is over. */
  readonly powerHighest_W: number;
  readonly inrushLongest_s: number;
  readonly runUpLongest_s: number;
  readonly steady: SteadyRule;
  readonly points: readonly AirflowPoint[];
  readonly coastLongest_s: number;
  /** Null: results are stated as measured. */
  readonly correction: AirflowCorrection | null;
}

/** Suction and power are steady when their trend takes them no further than this part of their mean in the time ahead. */
export interface SteadyRule {
  readonly within: number;
  /** Shortest time the trend is taken from. */
  readonly window_s: number;
  readonly ahead_s: number;
}

export interface AirflowPoint {
  readonly name: string;
  /** Name of an orifice of the station file. */
  readonly orifice: string;
  /** The point ends when its means are known this well: expanded uncertainty (k = 2) of the scatter, part of the mean. */
  readonly knownWithin: number;
  /** Never from fewer steady samples than this. */
  readonly samplesLeast: number;
  readonly holdLongest_s: number;
}

/**
 * How the motor's speed answers to the air's density and to its voltage, for stating results at 1.20 kg/m3 and at the
 * step's supply voltage: speed as (density / 1.20 kg/m3)^speedPerDensity (voltage / supply voltage)^speedPerVoltage.
 */
export interface AirflowCorrection {
  readonly speedPerDensity: number;
  readonly speedPerVoltage: number;
  /** Standard uncertainty of either exponent. */
  readonly exponentUncertainty: number;
}

/** Taken at a point of an airflow step. */
export type PointMeasurand = "suction" | "flow" | "power" | "suction_power" | "efficiency";
/** Taken from the fan curve through an airflow step's points. */
export type CurveMeasurand = "largest_suction_power" | "suction_at_zero_flow" | "flow_at_zero_suction";
export type Measurand = "leak_rate" | PointMeasurand | CurveMeasurand;

/** A judged quantity. Limits are SI: leak_rate m3/s at the house reference, suction Pa (positive below ambient), flow m3/s, power W, efficiency as a part. */
export interface Characteristic {
  readonly name: string;
  readonly step: string;
  readonly measurand: Measurand;
  /** Of a PointMeasurand: the point it is taken at. */
  readonly point?: string;
  readonly lower?: number;
  readonly upper?: number;
  /** Where `upper` comes from: the rated input, W, and the deviation that IEC 60335-1 allows a motor-operated appliance. */
  readonly ratedInput_W?: number;
  /** Unit of the limit's text; values are shown in it. */
  readonly unit: string;
  readonly rule: DecisionRule;
}

/** What is likely wrong with a failed unit, and where to look; fits when all its conditions hold. */
export interface SuspectRule {
  readonly cause: string;
  readonly lookAt: string;
  readonly when: readonly SuspectCondition[];
}

export type SuspectCondition =
  /** Value over limit; never holds for what was not measured. */
  | {
      readonly kind: "ratio";
      readonly of: string;
      readonly to: "lower" | "upper";
      readonly atLeast?: number;
      readonly atMost?: number;
    }
  | { readonly kind: "verdict"; readonly of: string; readonly is: "pass" | "fail" }
  /** One of these reason codes was given by a phase. */
  | { readonly kind: "finding"; readonly codes: readonly FindingCode[] }
  /** A tracked part's number. */
  | { readonly kind: "part"; readonly part: string; readonly pattern: RegExp };

/** JCGM 106:2012: simple acceptance (8.2), or guarded acceptance to a stated conformance probability (8.3). */
export type DecisionRule =
  | { readonly kind: "simple" }
  | { readonly kind: "guarded"; readonly conformance: number };

export interface RetestRule {
  /** Full tests allowed after a fail without rework. */
  readonly afterFail: number;
  /** Repeats allowed after a void (no valid measurement), which never count as fails. */
  readonly afterVoid: number;
  /** Why a unit may be tested once more after a fail, for the inspector to choose from; empty: no reason is asked for. */
  readonly reasons: readonly string[];
  /** After a fail, motor and gas need so long to cool before the retest. */
  readonly pause_s: number;
}

export interface TrackedPart {
  readonly name: string;
  readonly pattern: RegExp;
  readonly check: CheckScheme | null;
  readonly required: boolean;
}

/** GS1 check digit; ISO/IEC 7064 MOD 97-10 (two digits) and MOD 37,36 (one character). */
export type CheckScheme = "gs1" | "mod-97-10" | "mod-37-36";
