import { HOUSE_REFERENCE } from "../../../limits/quantity.ts";
import {
  type BudgetInput,
  type BudgetLine,
  budgetOf,
  combinedUncertainty,
  rectangular,
} from "../fit/uncertainty.ts";
import { AIR_HEAT_RATIO } from "../gas/dry-air.ts";
import type { VolumeCalibration } from "../leak/settle-calibration.ts";
import { flowRatio, type LeakAir } from "./leak-flow-law.ts";
import { type BracketedRuns, type SideSlope, slopesOf, type VolumeStudyOptions } from "./volume-slopes.ts";

/** A leak of certified rate at the house reference and the test pressure; and what the piece without it leaks. */
export interface KnownLeak {
  readonly leak_m3_s: number;
  readonly uncertainty_m3_s: number;
}

export interface KnownVolume {
  readonly volume_m3: number;
  readonly uncertainty_m3: number;
}

export interface FoundVolume extends VolumeCalibration {
  readonly kind: "found";
  readonly budget: readonly BudgetLine[];
  /** Loss of pressure without and with what was added. */
  readonly lossWithout_Pa_s: number;
  readonly lossWith_Pa_s: number;
}

export type VolumeStudy = FoundVolume | { readonly kind: "not found"; readonly sentence: string };

/** A difference below this many of its standard uncertainties says nothing of the volume. */
const LEAST_DIFFERENCE = 10;

/**
 * Volume of unit and fixture from a calibrated leak: V = q p_ref (T / T_ref) / (s_with - s_without), with q carried to the
 * pressure and temperature at hand. An elastic body counts with what it yields, as the leak step feels it.
 * @see ideal gas amount balance at fixed volume; JCGM 100:2008 for the budget
 * @example 0.045 Pa.m3/s make 97 Pa instead of 22 Pa in 20 s: V = 0.045 * 20 / 75 = 0.012 m3
 */
export function volumeByLeak(
  runs: BracketedRuns,
  known: KnownLeak,
  options: VolumeStudyOptions,
): VolumeStudy {
  const found = slopesOf(runs, options);
  if (found.kind === "not found") return found;
  const { without, added, drift_Pa_s, tau_s } = found;
  const difference_Pa_s = added.loss_Pa_s - without.loss_Pa_s;
  const scatter_Pa_s = Math.hypot(without.uncertainty_Pa_s, added.uncertainty_Pa_s);
  if (!(difference_Pa_s > LEAST_DIFFERENCE * Math.hypot(scatter_Pa_s, drift_Pa_s))) {
    return notFound(
      "The known leak does not stand out: the body loses hardly more with it than without. Look whether it is open and connected, or take a larger one.",
    );
  }
  const T_K = added.air.temperature_K;
  const { temperature_K: reference_K, pressure_Pa: reference_Pa } = HOUSE_REFERENCE;
  const flow = flowRatio(options.leakKind, certifiedAir(options.testPressure_Pa), added.air);
  const flow_m3_s = known.leak_m3_s * flow.ratio;
  const lag = temperatureLag(difference_Pa_s, added, tau_s);
  const volume_m3 = ((flow_m3_s * reference_Pa * (T_K / reference_K)) / difference_Pa_s) * (1 - lag);
  return answer(volume_m3, without, added, [
    {
      component: "known leak",
      estimate: known.leak_m3_s,
      uncertainty: known.uncertainty_m3_s,
      unit: "m3/s",
      sensitivity: volume_m3 / known.leak_m3_s,
    },
    {
      component: "leak's flow at this pressure and temperature",
      estimate: flow.ratio,
      uncertainty: flow.uncertainty,
      unit: "1",
      sensitivity: volume_m3 / flow.ratio,
    },
    ...slopeInputs(without, added, drift_Pa_s, {
      without: volume_m3 / difference_Pa_s,
      added: -volume_m3 / difference_Pa_s,
    }),
    {
      component: "gauge slope",
      estimate: 1,
      uncertainty: options.gaugeSlopeUncertainty,
      unit: "1",
      sensitivity: -volume_m3,
    },
    {
      component: "gas temperature",
      estimate: T_K,
      uncertainty: options.ambientTemperatureUncertainty_K,
      unit: "K",
      sensitivity: volume_m3 / T_K,
    },
    {
      component: "lag of the gas temperature",
      estimate: lag,
      uncertainty: rectangular(lag / 2),
      unit: "1",
      sensitivity: -volume_m3,
    },
  ]);
}

/**
 * Volume of unit and fixture from a known volume added to it, the leak being the same: both lose q p_ref (T / T_ref), so
 * s_without V = s_with (V + V_add), V = V_add / (s_without / s_with - 1). Slopes are carried to one pressure first, and freed
 * of what the room's drift makes of them, since that is no leak and knows no volume.
 * A rigid volume is added to a body that may yield; V is the body as the leak step feels it.
 * @see ideal gas amount balance at fixed volume; JCGM 100:2008 for the budget
 */
export function volumeByAddedVolume(
  runs: BracketedRuns,
  known: KnownVolume,
  options: VolumeStudyOptions,
): VolumeStudy {
  const found = slopesOf(runs, options);
  if (found.kind === "not found") return found;
  const { without, added, drift_Pa_s, room } = found;
  const flow = flowRatio(options.leakKind, without.air, added.air);
  const lossWithout_Pa_s = without.loss_Pa_s - room.loss_Pa_s;
  const lossWith_Pa_s = added.loss_Pa_s - room.loss_Pa_s;
  const relative = Math.hypot(
    without.uncertainty_Pa_s / lossWithout_Pa_s,
    added.uncertainty_Pa_s / lossWith_Pa_s,
    drift_Pa_s / lossWithout_Pa_s,
  );
  const ratio = (lossWithout_Pa_s / lossWith_Pa_s) * flow.ratio;
  const more = ratio - 1;
  if (!(lossWith_Pa_s > 0 && more > LEAST_DIFFERENCE * relative)) {
    return notFound(
      "The added volume does not stand out: the body loses pressure hardly slower with it than without. Add a larger one, take a piece that leaks more, or make more runs.",
    );
  }
  const volume_m3 = known.volume_m3 / more;
  const perRatio = -volume_m3 / more;
  return answer(volume_m3, without, added, [
    {
      component: "added volume",
      estimate: known.volume_m3,
      uncertainty: known.uncertainty_m3,
      unit: "m3",
      sensitivity: volume_m3 / known.volume_m3,
    },
    {
      component: "leak's flow at this pressure and temperature",
      estimate: flow.ratio,
      uncertainty: flow.uncertainty,
      unit: "1",
      sensitivity: (perRatio * ratio) / flow.ratio,
    },
    ...slopeInputs(without, added, drift_Pa_s, {
      without: (perRatio * ratio) / lossWithout_Pa_s,
      added: (-perRatio * ratio) / lossWith_Pa_s,
    }),
    {
      component: "room drift",
      estimate: room.loss_Pa_s,
      uncertainty: room.uncertainty_Pa_s,
      unit: "Pa/s",
      sensitivity: perRatio * ratio * (1 / lossWith_Pa_s - 1 / lossWithout_Pa_s),
    },
  ]);
}

/**
 * Air that leaks in warms the gas, air that leaks out cools it, by (k - 1) tau times its relative rate (energy balance of a
 * body with a wall). As the leak fades with the pressure that fades too, and the slope is smaller by this part.
 */
function temperatureLag(leak_Pa_s: number, { air }: SideSlope, tau_s: number): number {
  return (AIR_HEAT_RATIO - 1) * tau_s * PRESSURE_EXPONENT * (leak_Pa_s / Math.abs(air.gauge_Pa));
}

/** Flow of a leak grows between p^0.5 (orifice) and p^1 (capillary) at small differences. */
const PRESSURE_EXPONENT = 0.75;

function slopeInputs(
  without: SideSlope,
  added: SideSlope,
  drift_Pa_s: number,
  sensitivity: { readonly without: number; readonly added: number },
): BudgetInput[] {
  return [
    {
      component: "slope without, scatter of the runs",
      estimate: without.loss_Pa_s,
      uncertainty: without.uncertainty_Pa_s,
      unit: "Pa/s",
      sensitivity: sensitivity.without,
    },
    {
      component: "slope with, scatter of the runs",
      estimate: added.loss_Pa_s,
      uncertainty: added.uncertainty_Pa_s,
      unit: "Pa/s",
      sensitivity: sensitivity.added,
    },
    {
      component: "drift from before to after",
      estimate: 0,
      uncertainty: drift_Pa_s,
      unit: "Pa/s",
      sensitivity: sensitivity.without,
    },
  ];
}

function answer(
  volume_m3: number,
  without: SideSlope,
  added: SideSlope,
  inputs: readonly BudgetInput[],
): FoundVolume {
  const budget = budgetOf(inputs);
  return {
    kind: "found",
    volume_m3,
    uncertainty_m3: combinedUncertainty(budget),
    budget,
    lossWithout_Pa_s: without.loss_Pa_s,
    lossWith_Pa_s: added.loss_Pa_s,
  };
}

/** Certificates state rates at the house reference: both sides at 20 degC, the outside at 101.325 kPa. */
function certifiedAir(gauge_Pa: number): LeakAir {
  return {
    gauge_Pa,
    outside_Pa: HOUSE_REFERENCE.pressure_Pa,
    temperature_K: HOUSE_REFERENCE.temperature_K,
  };
}

function notFound(sentence: string): { readonly kind: "not found"; readonly sentence: string } {
  return { kind: "not found", sentence };
}
