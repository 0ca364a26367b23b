import type { Reading } from "../../drivers/ports.ts";
import { isSteady, staysAbove } from "../measure/steady/steady-window.ts";
import {
  type AirflowFinding,
  gaugeStoodStill,
  MOTOR_DID_NOT_START,
  motorDrawsTooMuch,
  motorStaysSlow,
  motorStopped,
  notSteady,
  powerWithoutSuction,
  SUCTION_WITHOUT_POWER,
  supplyDrifts,
} from "./airflow-findings.ts";
import { type AirflowOrder, AirflowReadings } from "./airflow-readings.ts";
import { median } from "./fill-watch.ts";
import type { Reason } from "./reason.ts";
import { doesSupplyDrift, suctionRise } from "./suction-rise.ts";

export interface RunUpOrder extends AirflowOrder {
  /** A sound motor's inrush is over by then. */
  readonly inrushLongest_s: number;
}

/** How a run-up ended: with the readings so far, which the first point goes on with, or with what was found. */
export type RunUpEnd =
  | { readonly kind: "run_up"; readonly readings: readonly Reading[] }
  | { readonly kind: "finding"; readonly finding: AirflowFinding }
  | { readonly kind: "untrusted"; readonly reason: Reason };

/** So many readings in a row above the highest power are no spark. */
const TOO_MUCH_ROW = 6;
/** An inrush is followed so long before it is said not to fall. */
const INRUSH_SEEN_s = 0.5;
/**
 * Follows a motor from switching on until suction and power are steady. It fails clearly: never drew power, draws too much,
 * still comes up when the time is over; anything else that is not steady by then is void.
 * @returns what takes the readings one by one and gives the end when it has come
 */
export function runUpWatch(order: RunUpOrder) {
  const readings = new AirflowReadings(order);
  const excess = excessWatch(order, readings);
  return (reading: Reading): RunUpEnd | undefined => {
    const doubt = readings.add(reading);
    if (doubt) return { kind: "untrusted", reason: doubt };
    const tooMuch = reading.channel === "power" ? excess(order.inrushLongest_s) : null;
    if (tooMuch) return tooMuch;
    if (isUp()) return { kind: "run_up", readings: readings.all };
    if (readings.elapsed_s < order.longest_s) return undefined;
    const frozen = whatIsFrozen();
    if (frozen) return { kind: "untrusted", reason: frozen };
    return { kind: "finding", finding: whyNotSteady() };
  };

  /** A motor without suction is waited for to the end: nothing in the air may be as steady as nothing. */
  function isUp(): boolean {
    if (!readings.isRunning || !readings.doesAirMove || readings.standingStill) return false;
    return readings.windowStarts_s().some(isSteadySince);
  }

  function whatIsFrozen(): Reason | null {
    if (!readings.isRunning) return readings.isVoltageFrozen ? gaugeStoodStill("voltage") : null;
    const standing = readings.allWindowStarts_s().some(isSteadySince) ? readings.standingStill : undefined;
    return standing === undefined ? readings.frozen(0) : gaugeStoodStill(standing);
  }

  function isSteadySince(from_s: number): boolean {
    return STEADY_CHANNELS.every((channel) => isChannelSteady(order, readings, channel, from_s));
  }

  function whyNotSteady(): AirflowFinding {
    if (!readings.hasRun) return readings.hasSuction ? SUCTION_WITHOUT_POWER : MOTOR_DID_NOT_START;
    if (!readings.isRunning) return motorStopped();
    if (!readings.doesAirMove) return powerWithoutSuction(readings.now("power"));
    const rise = suctionRise(order, readings);
    if (rise.kind === "motor") return motorStaysSlow(order.longest_s, rise.slope_Pa_s);
    if (rise.kind === "supply" || doesSupplyDrift(order, readings)) return supplyDrifts(order.longest_s);
    return notSteady(unsteadyChannels(order, readings), order.longest_s);
  }
}

/** What must be steady; flow and voltage follow these, and their means must be known all the same. */
export const STEADY_CHANNELS = ["suction", "power"] as const;

export function isChannelSteady(
  order: AirflowOrder,
  readings: AirflowReadings,
  channel: string,
  from_s: number,
): boolean {
  const trend = readings.of(channel).trendSince(from_s);
  return trend !== null && isSteady(trend, order.steady, order.scatterFloor(channel));
}

/** @returns those of suction and power that are steady in no window; both where each is in another one */
export function unsteadyChannels(order: AirflowOrder, readings: AirflowReadings): readonly string[] {
  const never = STEADY_CHANNELS.filter(
    (channel) =>
      !readings.allWindowStarts_s().some((from_s) => isChannelSteady(order, readings, channel, from_s)),
  );
  return never.length > 0 ? never : STEADY_CHANNELS;
}

/**
 * Whether the motor draws more than a sound one ever does. While its inrush may last, only when that does not fall, or not
 * fast enough to be over in time.
 * @returns what is asked at each reading of power
 */
export function excessWatch(order: AirflowOrder, readings: AirflowReadings) {
  return (inrushLongest_s: number): Exclude<RunUpEnd, { kind: "run_up" }> | null => {
    const power = readings.of("power");
    const row = power.rowOf((power_W) => power_W > order.powerHighest_W);
    if (row < TOO_MUCH_ROW) return null;
    const { t_s, values } = power.since(Number.NEGATIVE_INFINITY);
    const from_s = t_s.at(-row) ?? 0;
    const left_s = inrushLongest_s - readings.elapsed_s;
    if (left_s > 0) {
      const trend = (t_s.at(-1) ?? 0) - from_s >= INRUSH_SEEN_s ? power.trendSince(from_s) : null;
      if (!trend || !staysAbove(trend, values.at(-1) ?? 0, order.powerHighest_W, left_s)) return null;
    }
    const inRow_W = values.slice(-row);
    if (inRow_W.every((power_W) => power_W === inRow_W[0])) {
      return { kind: "untrusted", reason: gaugeStoodStill("power") };
    }
    return { kind: "finding", finding: motorDrawsTooMuch(median(inRow_W.slice(-5)), order.powerHighest_W) };
  };
}
