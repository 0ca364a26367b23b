import type { Reading } from "../../drivers/ports.ts";
import { mean } from "../measure/fit/mean.ts";
import { settledMean } from "../measure/steady/settled-mean.ts";
import { LEAST_READINGS } from "../measure/steady/trend.ts";
import {
  type AirflowFinding,
  gaugeStoodStill,
  motorStopped,
  notKnown,
  notSteady,
  powerWithoutSuction,
  supplyDrifts,
  supplyOutOfTolerance,
  tooFewReadings,
} from "./airflow-findings.ts";
import { type AirflowOrder, AirflowReadings } from "./airflow-readings.ts";
import type { Reason } from "./reason.ts";
import { excessWatch, isChannelSteady, STEADY_CHANNELS, unsteadyChannels } from "./run-up-watch.ts";
import { doesSupplyDrift } from "./suction-rise.ts";

export interface PointOrder extends AirflowOrder {
  readonly point: string;
  /** Expanded uncertainty (k = 2) of each mean's scatter that is good enough, part of the mean. */
  readonly knownWithin: number;
  readonly samplesLeast: number;
  /** Of the run-up through the same orifice: the first point need not wait for what has just been seen. */
  readonly earlier: readonly Reading[];
}

/** Readings of one channel, SI, with their times on the clock. */
export interface ChannelSamples {
  readonly t_s: readonly number[];
  readonly values: readonly number[];
}

/** Readings of the steady window; of a flow that has no gauge, or no plate, none. */
export interface AirflowSamples {
  /** When the motor was switched on, or the orifice changed, as the first reading since tells. */
  readonly since_s: number;
  readonly suction_Pa: ChannelSamples;
  readonly flow_m3_s: ChannelSamples;
  readonly drop_Pa: ChannelSamples;
  readonly power_W: ChannelSamples;
  readonly voltage_V: ChannelSamples;
}

const NO_SAMPLES: ChannelSamples = { t_s: [], values: [] };

export type PointEnd =
  | { readonly kind: "steady"; readonly samples: AirflowSamples }
  | { readonly kind: "finding"; readonly finding: AirflowFinding }
  | { readonly kind: "untrusted"; readonly reason: Reason };

/** Expanded uncertainties are two standard ones. */
const EXPANDED = 2;

/**
 * Holds a point until suction and power are steady over a window and the means of all channels over it are known: each one's
 * standard uncertainty, scatter, trend and what may still be to come together, no more than half of what is wanted, or than
 * the constant part of its gauge's certificate where that is more. The shortest such window serves.
 * @returns what takes the readings one by one and gives the end when it has come
 */
export function pointWatch(order: PointOrder) {
  const readings = new AirflowReadings(order);
  const excess = excessWatch(order, readings);
  for (const reading of order.earlier) readings.add(reading);
  const earlier_s = readings.elapsed_s;

  return (reading: Reading): PointEnd | undefined => {
    const doubt = readings.add(reading);
    if (doubt) return { kind: "untrusted", reason: doubt };
    const tooMuch = reading.channel === "power" ? excess(0) : null;
    if (tooMuch) return tooMuch;
    if (readings.isRunning && readings.doesAirMove && !readings.standingStill) {
      const from_s = readings
        .windowStarts_s()
        .find((start_s) => isSteadySince(start_s) && isKnownSince(start_s));
      if (from_s !== undefined) return ended(from_s);
    }
    if (readings.elapsed_s - earlier_s < order.longest_s) return undefined;
    const frozen = readings.isRunning ? whatIsFrozen() : null;
    if (frozen) return { kind: "untrusted", reason: frozen };
    return { kind: "finding", finding: whyNotKnown() };
  };

  /** What nothing may rest on: a gauge that is surely frozen, or the only one that the point still waited for. */
  function whatIsFrozen(): Reason | null {
    const { standingStill } = readings;
    const waits =
      standingStill !== undefined &&
      readings.allWindowStarts_s().some((from_s) => isSteadySince(from_s) && isKnownSince(from_s));
    return waits ? gaugeStoodStill(standingStill) : readings.frozen(0);
  }

  function isSteadySince(from_s: number): boolean {
    return STEADY_CHANNELS.every((channel) => isChannelSteady(order, readings, channel, from_s));
  }

  function isKnownSince(from_s: number): boolean {
    return readings.channels.every((channel) => {
      const { t_s, values } = readings.of(channel).since(from_s);
      return t_s.length >= order.samplesLeast && timesWanted(channel, t_s, values) <= 1;
    });
  }

  /** Standard uncertainty of the channel's mean, as it will be judged with, over what is wanted of it; infinite of too few. */
  function timesWanted(channel: string, t_s: readonly number[], values: readonly number[]): number {
    if (t_s.length < LEAST_READINGS) return Number.POSITIVE_INFINITY;
    const { mean, uncertainty } = settledMean(t_s, values, readings.since_s);
    const wanted = Math.max((order.knownWithin / EXPANDED) * Math.abs(mean), order.scatterFloor(channel));
    return wanted > 0 ? uncertainty / wanted : uncertainty > 0 ? Number.POSITIVE_INFINITY : 0;
  }

  function ended(from_s: number): PointEnd {
    const samples = (channel: string) =>
      readings.channels.includes(channel) ? readings.of(channel).since(from_s) : NO_SAMPLES;
    const voltage_V = samples("voltage");
    const mean_V = mean(voltage_V.values);
    if (!readings.isSupplyGood(mean_V)) {
      return { kind: "untrusted", reason: supplyOutOfTolerance(mean_V, order) };
    }
    return {
      kind: "steady",
      samples: {
        since_s: readings.since_s,
        suction_Pa: samples("suction"),
        flow_m3_s: samples("flow"),
        drop_Pa: samples("flow_drop"),
        power_W: samples("power"),
        voltage_V,
      },
    };
  }

  function whyNotKnown(): AirflowFinding {
    const { longest_s, point, samplesLeast } = order;
    if (!readings.isRunning) return motorStopped(point);
    if (!readings.doesAirMove) return powerWithoutSuction(readings.now("power"), point);
    const from_s = readings.allWindowStarts_s().filter(isSteadySince).at(-1);
    if (from_s === undefined) {
      if (doesSupplyDrift(order, readings)) return supplyDrifts(longest_s, point);
      return notSteady(unsteadyChannels(order, readings), longest_s, point);
    }
    for (const channel of readings.channels) {
      const { t_s, values } = readings.of(channel).since(from_s);
      if (t_s.length < samplesLeast) return tooFewReadings(channel, samplesLeast, longest_s, point);
      const times = timesWanted(channel, t_s, values);
      if (times > 1) return notKnown(channel, times, longest_s, point);
    }
    return notSteady(STEADY_CHANNELS, longest_s, point);
  }
}
