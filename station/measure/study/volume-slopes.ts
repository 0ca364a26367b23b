import { fitLine } from "../fit/line-fit.ts";
import { mean } from "../fit/mean.ts";
import { rectangular } from "../fit/uncertainty.ts";
import type { LeakAir, LeakKind } from "./leak-flow-law.ts";
import { fitRuns, fittable, noiseFromDifferences } from "./settle-fit.ts";

/** Gauge pressures of a shut body, times since it was shut off; and the room, when the run began. */
export interface VolumeRun {
  readonly started_s: number;
  readonly t_s: ArrayLike<number>;
  readonly pressure_Pa: ArrayLike<number>;
  readonly ambientPressure_Pa: number;
  readonly ambientTemperature_K: number;
}

/** Runs without what is added, with it, and without again: what drifts evenly meanwhile drops out, and is seen. */
export interface BracketedRuns {
  readonly before: readonly VolumeRun[];
  readonly between: readonly VolumeRun[];
  readonly after: readonly VolumeRun[];
}

export interface VolumeStudyOptions {
  readonly testPressure_Pa: number;
  /** Readings before this are of gas that still settles. */
  readonly from_s: number;
  /** Standard uncertainty of the gauge's slope, relative; and of the ambient temperature. */
  readonly gaugeSlopeUncertainty: number;
  readonly ambientTemperatureUncertainty_K: number;
  readonly leakKind: LeakKind;
}

/** Fewer readings after settling than this have no slope worth naming. */
const LEAST_READINGS = 100;
export interface SideSlope {
  /** Mean loss of pressure of the runs, positive when pressure is lost, and its standard uncertainty from their scatter. */
  readonly loss_Pa_s: number;
  readonly uncertainty_Pa_s: number;
  readonly air: LeakAir;
}

/** What the room's temperature and barometer did to the pressure meanwhile, positive like a loss. */
export interface RoomSlope {
  readonly loss_Pa_s: number;
  readonly uncertainty_Pa_s: number;
}

export type Slopes =
  | {
      readonly kind: "found";
      readonly without: SideSlope;
      readonly added: SideSlope;
      /** Standard uncertainty of the bracket's middle: what changed between before and after may have changed unevenly. */
      readonly drift_Pa_s: number;
      readonly room: RoomSlope;
      /** Time constant of the gas against the wall. */
      readonly tau_s: number;
    }
  | { readonly kind: "not found"; readonly sentence: string };

/** @returns the slopes of the three sets, or in one sentence why they have none */
export function slopesOf({ before, between, after }: BracketedRuns, options: VolumeStudyOptions): Slopes {
  const fewest = Math.min(before.length, between.length, after.length);
  if (fewest < 2)
    return notFound("Runs that differ can't be told from runs that drift: make 2 or more of each.");
  const all = [before, between, after].map((runs) => runs.map((run) => lossOf(run, options)));
  const readings = all.flat().map(({ readings: n }) => n);
  if (Math.min(...readings) < LEAST_READINGS) {
    return notFound(
      `A run has fewer than ${LEAST_READINGS} readings after ${options.from_s.toFixed(0)} s, when the gas has settled: watch longer.`,
    );
  }
  const [first, middle, last] = all.map((losses) => losses.map(({ loss_Pa_s }) => loss_Pa_s));
  // One scatter for all three sets: few runs say little of it, and it is the same gauge in the same room.
  const scatter_Pa_s = pooledScatter([first ?? [], middle ?? [], last ?? []]);
  const [m1, m2] = [mean(first ?? []), mean(last ?? [])];
  const side = (loss_Pa_s: number, runs: readonly VolumeRun[], uncertainty_Pa_s: number): SideSlope => ({
    loss_Pa_s,
    uncertainty_Pa_s,
    air: {
      gauge_Pa: mean(runs.map((run) => lossOf(run, options).mean_Pa)),
      outside_Pa: mean(runs.map(({ ambientPressure_Pa }) => ambientPressure_Pa)),
      temperature_K: mean(runs.map(({ ambientTemperature_K }) => ambientTemperature_K)),
    },
  });
  return {
    kind: "found",
    without: side(
      (m1 + m2) / 2,
      [...before, ...after],
      (scatter_Pa_s / 2) * Math.sqrt(1 / before.length + 1 / after.length),
    ),
    added: side(mean(middle ?? []), between, scatter_Pa_s / Math.sqrt(between.length)),
    drift_Pa_s: rectangular(Math.abs(m1 - m2) / 2),
    room: roomSlope([...before, ...between, ...after], options.testPressure_Pa),
    tau_s: timeConstant_s(before),
  };
}

/**
 * From the room's readings over the whole study. The gas follows the wall, and the wall the room, not always in full: half
 * of the temperature's part is taken for possible either way, as rectangular (no source).
 */
function roomSlope(runs: readonly VolumeRun[], testPressure_Pa: number): RoomSlope {
  const times = runs.map(({ started_s }) => started_s);
  const barometer = fitLine(
    times,
    runs.map(({ ambientPressure_Pa }) => ambientPressure_Pa),
  );
  const thermometer = fitLine(
    times,
    runs.map(({ ambientTemperature_K }) => ambientTemperature_K),
  );
  const absolute_Pa = mean(runs.map(({ ambientPressure_Pa }) => ambientPressure_Pa)) + testPressure_Pa;
  const perKelvin_Pa = absolute_Pa / mean(runs.map(({ ambientTemperature_K }) => ambientTemperature_K));
  const warming_Pa_s = perKelvin_Pa * thermometer.slope;
  return {
    loss_Pa_s: -Math.sign(testPressure_Pa) * (warming_Pa_s - barometer.slope),
    uncertainty_Pa_s: Math.hypot(
      rectangular(Math.abs(warming_Pa_s) / 2),
      perKelvin_Pa * thermometer.slopeUncertainty,
      barometer.slopeUncertainty,
    ),
  };
}

function timeConstant_s(runs: readonly VolumeRun[]): number {
  const curves = runs.map(({ t_s, pressure_Pa }) => fittable(t_s, pressure_Pa));
  return fitRuns(curves, noiseFromDifferences(curves), "none").tau_s;
}

function lossOf(
  run: VolumeRun,
  { testPressure_Pa, from_s }: VolumeStudyOptions,
): { readonly loss_Pa_s: number; readonly mean_Pa: number; readonly readings: number } {
  const times: number[] = [];
  const pressures: number[] = [];
  for (let i = 0; i < run.t_s.length; i++) {
    const t = run.t_s[i] as number;
    if (t < from_s) continue;
    times.push(t);
    pressures.push(run.pressure_Pa[i] as number);
  }
  const readings = times.length;
  if (readings < LEAST_READINGS) return { loss_Pa_s: Number.NaN, mean_Pa: Number.NaN, readings };
  // A line's slope is that of a slowly bending curve at its middle, where the mean pressure is.
  const { slope } = fitLine(times, pressures);
  return { loss_Pa_s: -Math.sign(testPressure_Pa) * slope, mean_Pa: mean(pressures), readings };
}

/**
 * Standard deviation of sets that each have a mean of their own, widened for being known from few of them.
 * @see JCGM 101:2008, 6.4.9.4: the t-distribution's variance is larger by degrees / (degrees - 2)
 */
function pooledScatter(sets: readonly (readonly number[])[]): number {
  let squares = 0;
  let degrees = 0;
  for (const values of sets) {
    const middle = mean(values);
    for (const value of values) squares += (value - middle) ** 2;
    degrees += values.length - 1;
  }
  return Math.sqrt(squares / (degrees - 2));
}

function notFound(sentence: string): { readonly kind: "not found"; readonly sentence: string } {
  return { kind: "not found", sentence };
}
