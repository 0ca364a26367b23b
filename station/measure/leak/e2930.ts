import { formatQuantity } from "../../../limits/print-quantity.ts";
import { HOUSE_REFERENCE } from "../../../limits/quantity.ts";

/** "settling" is ours: the standard presumes a gas at rest. */
export type E2930Rule = "resolution" | "accuracy" | "pressure change" | "deformable vessel" | "settling";

/** A gauge's stated uncertainty is mostly an error that its readings share: it makes the resolution look worse. */
export type ResolutionSource = "learned noise" | "stated uncertainty";

/** What the rules look at; null where it is not known. Leak rates at the house reference. */
export interface E2930Facts {
  readonly limit_m3_s: number;
  /** Unit of leak rate that the sentences are written in. */
  readonly unit: string;
  /** Gauge pressure, negative for suction. */
  readonly testPressure_Pa: number;
  /** Unit and fixture together; the unit alone makes the pressure change look larger, never smaller. */
  readonly volume_m3: number;
  readonly measureLongest_s: number;
  /** Temperature of the gas; the house reference's 20 degC if left out. */
  readonly ambientTemperature_K?: number;
  /** Standard uncertainty that the gauge alone leaves at the longest measuring time. */
  readonly resolution_m3_s: number | null;
  /** What the resolution was worked out from; the noise where it is left out. */
  readonly resolutionFrom?: ResolutionSource;
  /** Of a leak rate at the limit, k = 2. */
  readonly expandedUncertainty_m3_s: number | null;
  /** The same of a unit called tight as early as may be; null or left out where every unit is measured to the end. */
  readonly earlyExpandedUncertainty_m3_s?: number | null;
  /** What learned heat and slow part still change the pressure by in the longest measuring time, however signed. */
  readonly settlingChange_Pa?: number | null;
  /** Whether heat and leak are fitted together. */
  readonly isFitted?: boolean;
  /** What the learned heat still moves over a fixed timer's measuring time, as a leak rate; left out where it is taken out. */
  readonly heatDrift_m3_s?: number | null;
  /** What the learned slow part still moves over the measuring time, as a leak rate. */
  readonly slowDrift_m3_s: number | null;
}

export interface E2930Warning {
  readonly rule: E2930Rule;
  /** What was found, what the rule asks for, what to do. */
  readonly sentence: string;
}

const RESOLUTION_FINER = 10;
const ACCURACY_FINER = 4;
const MOST_PRESSURE_CHANGE = 1 / 10;
/** The abstract gives no figure for a vessel that deforms: a drift the size of the resolution it asks for is seen. */
const MOST_SLOW_DRIFT = 1 / RESOLUTION_FINER;
const MOST_HEAT_DRIFT = 1 / RESOLUTION_FINER;

/**
 * The rules of ASTM E2930 (leak rate by pressure decay, mass change from the ideal gas law) that a limit and its
 * measurement break: a resolution ten times and an accuracy four times finer than the limit, a pressure change under a
 * tenth of the test pressure, no vessel that deforms. Rules whose facts are null are passed over.
 *
 * Only the standard's public abstract could be read, not its text. Three readings are ours: "accuracy" is the
 * expanded uncertainty (k = 2) at the limit, "resolution" the standard uncertainty that the gauge's noise leaves, and
 * the tenth is taken of the gauge pressure, which asks for more than a tenth of the absolute one would. The pressure
 * change is that of leak, learned heat and learned slow part together.
 * @see ASTM E2930, abstract in the standards catalogue
 */
export function e2930Warnings(facts: E2930Facts): readonly E2930Warning[] {
  return [
    ...resolutionWarning(facts),
    ...accuracyWarning(facts),
    ...pressureChangeWarning(facts),
    ...deformableVesselWarning(facts),
    ...settlingWarning(facts),
  ];
}

/** @returns the rules that the facts do not suffice for */
export function e2930Unchecked(facts: E2930Facts): readonly E2930Rule[] {
  return [
    ...(facts.resolution_m3_s === null ? (["resolution"] as const) : []),
    ...(facts.expandedUncertainty_m3_s === null ? (["accuracy"] as const) : []),
    ...(facts.slowDrift_m3_s === null ? (["deformable vessel"] as const) : []),
  ];
}

/**
 * How fast a leak changes the pressure in a closed volume: dp/dt = q (p_ref / V) (T / T_ref).
 * @param leak_m3_s at the house reference
 * @returns Pa/s, with the sign of the leak rate
 * @example pressureLoss_Pa_s(1e-6, 0.012, 293.15) // 8.44 Pa/s: 60 mL/min from 12 L
 * @see ideal gas amount balance at fixed volume, as in 40 CFR 1065.644
 */
export function pressureLoss_Pa_s(leak_m3_s: number, volume_m3: number, temperature_K: number): number {
  const { temperature_K: reference_K, pressure_Pa: reference_Pa } = HOUSE_REFERENCE;
  return leak_m3_s * (reference_Pa / volume_m3) * (temperature_K / reference_K);
}

function resolutionWarning(facts: E2930Facts): E2930Warning[] {
  const { resolution_m3_s, resolutionFrom = "learned noise", limit_m3_s, unit } = facts;
  const wanted_m3_s = limit_m3_s / RESOLUTION_FINER;
  if (resolution_m3_s === null || resolution_m3_s <= wanted_m3_s) return [];
  const remedy =
    resolutionFrom === "learned noise"
      ? "measure longer, or use a gauge with less noise"
      : "measure longer, or learn the gauge's true noise with drumtight study settle";
  const sentence =
    `By its ${resolutionFrom} the gauge resolves a leak rate to ${rate(resolution_m3_s, unit)} in the longest measuring ` +
    `time, and ASTM E2930 asks for a tenth of the limit, ${rate(wanted_m3_s, unit)}: ${remedy}.`;
  return [{ rule: "resolution", sentence }];
}

function accuracyWarning(facts: E2930Facts): E2930Warning[] {
  const { expandedUncertainty_m3_s, earlyExpandedUncertainty_m3_s: early_m3_s, limit_m3_s, unit } = facts;
  const wanted_m3_s = limit_m3_s / ACCURACY_FINER;
  const asked = `ASTM E2930 asks for a quarter of the limit, ${rate(wanted_m3_s, unit)}`;
  if (expandedUncertainty_m3_s !== null && expandedUncertainty_m3_s > wanted_m3_s) {
    const sentence =
      `A leak rate at the limit is known to +- ${rate(expandedUncertainty_m3_s, unit)} (k = 2), and ${asked}: reduce the ` +
      "largest part of the uncertainty, which each traveller lists.";
    return [{ rule: "accuracy", sentence }];
  }
  if (early_m3_s === undefined || early_m3_s === null || early_m3_s <= wanted_m3_s) return [];
  const sentence =
    `The leak rate of a unit that conforms by an early verdict may be known to +- ${rate(early_m3_s, unit)} only (k = 2), and ` +
    `${asked}: the verdict is certain within the risk stated, the value is not that accurate. Where it must be, set ` +
    "early_verdict: off or a longer measure_shortest.";
  return [{ rule: "accuracy", sentence }];
}

function pressureChangeWarning(facts: E2930Facts): E2930Warning[] {
  const temperature_K = facts.ambientTemperature_K ?? HOUSE_REFERENCE.temperature_K;
  const loss_Pa_s = pressureLoss_Pa_s(facts.limit_m3_s, facts.volume_m3, temperature_K);
  const leak_Pa = loss_Pa_s * facts.measureLongest_s;
  const most_Pa = MOST_PRESSURE_CHANGE * Math.abs(facts.testPressure_Pa);
  const asked = `ASTM E2930 asks for less than a tenth of the test pressure, ${pressure(most_Pa)}`;
  if (leak_Pa >= most_Pa) {
    const sentence =
      `A leak at the limit changes the pressure by ${pressure(leak_Pa)} in the longest measuring time, and ${asked}: ` +
      `set measure_longest below ${seconds(most_Pa / loss_Pa_s)}.`;
    return [{ rule: "pressure change", sentence }];
  }
  const settling_Pa = Math.abs(facts.settlingChange_Pa ?? 0);
  if (leak_Pa + settling_Pa < most_Pa) return [];
  const remedy = facts.isFitted
    ? "the fit carries the pressure's change in the leak, so that the value stays right; a longer settle keeps the rule"
    : "settle longer";
  const sentence =
    `The pressure changes by ${pressure(leak_Pa + settling_Pa)} in the longest measuring time, ` +
    `${settling_Pa > leak_Pa ? "most of it heat" : "heat and leak together"} (a leak at the limit makes ${pressure(leak_Pa)} of it), ` +
    `and ${asked}: ${remedy}.`;
  return [{ rule: "pressure change", sentence }];
}

function deformableVesselWarning({ slowDrift_m3_s, limit_m3_s, unit }: E2930Facts): E2930Warning[] {
  if (slowDrift_m3_s === null) return [];
  const most_m3_s = limit_m3_s * MOST_SLOW_DRIFT;
  if (Math.abs(slowDrift_m3_s) <= most_m3_s) return [];
  const sentence =
    `The body still yields after settling, which reads as ${rate(Math.abs(slowDrift_m3_s), unit)}, more than a tenth of the ` +
    `limit, and ASTM E2930 excludes vessels that deform: settle longer, or use method fitted, which takes the learned slow part out.`;
  return [{ rule: "deformable vessel", sentence }];
}

function settlingWarning({ heatDrift_m3_s, limit_m3_s, unit }: E2930Facts): E2930Warning[] {
  if (heatDrift_m3_s === undefined || heatDrift_m3_s === null) return [];
  if (Math.abs(heatDrift_m3_s) <= limit_m3_s * MOST_HEAT_DRIFT) return [];
  const sentence =
    `The gas has not come to rest after settling: its heat reads as ${rate(Math.abs(heatDrift_m3_s), unit)}, more than a tenth of ` +
    "the limit: settle longer, or take the learned mean curve off, or use method fitted.";
  return [{ rule: "settling", sentence }];
}

function rate(value_m3_s: number, unit: string): string {
  return formatQuantity(value_m3_s, "leakRate", unit, { significant: 3, reference: HOUSE_REFERENCE });
}

function pressure(value_Pa: number): string {
  return formatQuantity(value_Pa, "pressure", "Pa", { significant: 3 });
}

/** Rounded down, so that what it says suffices. */
function seconds(value_s: number): string {
  const place = 10 ** (Math.floor(Math.log10(value_s)) - 1);
  return formatQuantity(Math.floor(value_s / place) * place, "time", "s", { significant: 3 });
}
