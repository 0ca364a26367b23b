import { type FailWhy, judge, type VoidWhy } from "../../limits/judge.ts";
import type { Characteristic } from "../../limits/model.ts";
import type { FlowFrom, MeasuringOrifice } from "../measure/airflow/airflow-evidence.ts";
import type { BudgetLine } from "../measure/fit/uncertainty.ts";
import type { HowMeasured } from "../measure/leak/leak-slope.ts";

/** What the station knows of itself that a result depends on. */
export interface StationKnowledge {
  readonly fixtureVolume_m3: number;
  readonly fixtureVolumeUncertainty_m3: number;
  readonly fixtureLeakBound_m3_s: number;
  /** Standard uncertainties from the calibration certificate, per channel. */
  readonly channels: ReadonlyMap<string, ChannelUncertainty>;
  readonly flowFrom: FlowFrom;
  /** What each orifice lets air through; null for a closed inlet, absent where the station file does not say its bore. */
  readonly openings: ReadonlyMap<string, MeasuringOrifice | null>;
}

export interface ChannelUncertainty {
  /** In the channel's SI unit. */
  readonly absolute: number;
  /** Part of the reading. */
  readonly relative: number;
}

export interface CharacteristicResult {
  readonly characteristic: Characteristic;
  /** SI; null when nothing could be measured. */
  readonly value: number | null;
  /** Standard uncertainty, SI; null for an estimate that is not a measurement. */
  readonly uncertainty: number | null;
  readonly budget: readonly BudgetLine[];
  readonly verdict: "pass" | "fail" | "void";
  /** Why it is not a pass, in words. */
  readonly why?: string;
  /** Probability that the unit conforms (JCGM 106); null when nothing was judged. */
  readonly conformance: number | null;
  /** The way from curve to number, for a leak rate that was measured. */
  readonly how?: HowMeasured;
}

const WHY: Readonly<Record<FailWhy | VoidWhy, string>> = {
  ABOVE_UPPER_LIMIT: "above the upper limit",
  BELOW_LOWER_LIMIT: "below the lower limit",
  IN_UPPER_GUARD_BAND: "under the upper limit, but not by enough to be sure",
  IN_LOWER_GUARD_BAND: "over the lower limit, but not by enough to be sure",
  VALUE_NOT_FINITE: "the value is not a number",
  UNCERTAINTY_NOT_VALID: "its uncertainty is not valid",
  UNCERTAINTY_TOO_LARGE: "the uncertainty is too large to judge against these limits",
  LIMITS_NOT_VALID: "the limits contradict each other",
};

/** The value against its limits, by the limit file's rule. */
export function judged(
  characteristic: Characteristic,
  value: number,
  uncertainty: number,
  budget: readonly BudgetLine[],
): CharacteristicResult {
  const judgement = judge({ ...characteristic, value, standardUncertainty: uncertainty });
  const measured = { characteristic, value, uncertainty, budget, conformance: judgement.conformance };
  if (judgement.verdict === "pass") return { ...measured, verdict: "pass" };
  return { ...measured, verdict: judgement.verdict, why: WHY[judgement.why] };
}

/** Void, and why. */
export function notMeasured(characteristic: Characteristic, why: string): CharacteristicResult {
  return {
    characteristic,
    value: null,
    uncertainty: null,
    budget: [],
    verdict: "void",
    why,
    conformance: null,
  };
}
