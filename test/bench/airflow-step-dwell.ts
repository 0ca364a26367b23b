import type { Reading } from "../../drivers/ports.ts";
import type { AirflowStep } from "../../limits/model.ts";
import type { AirflowState } from "../../sim/plant/airflow.ts";
import { steadyRoom } from "../../sim/plant/room.ts";
import { mean } from "../../station/measure/fit/mean.ts";
import { AirflowRig, FLOORS, type RigTrial, runStep } from "../cycle/airflow-rig.ts";
import { quantile } from "./figure.ts";

const CHANNELS = ["suction", "flow", "power"] as const;
type Channel = (typeof CHANNELS)[number];
/** What a fan's suction, flow and input power go by, as powers of its speed (fan laws, ISO 5801). */
const PER_SPEED: Readonly<Record<Channel, number>> = { suction: 2, flow: 1, power: 3 };

/** Errors of a point's means over what its limit file wants of them (one standard uncertainty), by channel. */
export type PointErrors = Readonly<Record<Channel, number>>;

export interface Tested {
  readonly time_s: number;
  /** One per point; null for a unit that came to no valid measurement. */
  readonly errors: readonly PointErrors[] | null;
}

/** One point's fixed times: from the command (motor on, or other orifice) to the first reading averaged, and to the last. */
export interface Dwell {
  readonly settle_s: number;
  readonly average_s: number;
}

/** Long enough for any run-up and any orifice here to have come to rest. */
const WATCHED_s = { runUp: 9, point: 5 };
const AVERAGES_s = [0.3, 0.5, 0.8, 1, 1.5, 2, 3];
const STEP_s = 0.05;

/** The step as the station runs it: watched until steady and known. */
export function byWatching(trial: RigTrial, step: AirflowStep): Tested {
  const { runUp_s, points, stopped } = runStep(trial, step);
  const time_s = points.reduce((sum, { took_s }) => sum + took_s, runUp_s);
  if (stopped) return { time_s, errors: null };
  const rig = new AirflowRig(trial);
  const room = trial.room ?? steadyRoom();
  const errors = points.map(({ orifice, samples }, k) =>
    errorsOf(rig.truth(orifice), step, step.points[k]?.knownWithin ?? 0, {
      suction: mean(samples.suction_Pa.values),
      flow: mean(samples.flow_m3_s.values),
      power: mean(samples.power_W.values),
      voltage: mean(samples.voltage_V.t_s.map((t_s) => room.mains_V(t_s))),
    }),
  );
  return { time_s, errors };
}

/** All readings of a unit that is given far more time than it needs, point by point, and the errors of any dwell in them. */
export interface Watched {
  errorsAt(point: number, dwell: Dwell): PointErrors;
}

export function watchUnit(trial: RigTrial, step: AirflowStep): Watched {
  const rig = new AirflowRig(trial);
  const room = trial.room ?? steadyRoom();
  const readings = rig.readings();
  const traces = step.points.map(({ orifice, knownWithin }, k) => {
    rig.command({ orifice, motor: true });
    const from_s = rig.now_s;
    const until_s = from_s + (k === 0 ? WATCHED_s.runUp : WATCHED_s.point);
    const sums: Record<Channel | "voltage", number[]> = { suction: [0], flow: [0], power: [0], voltage: [0] };
    while (rig.now_s < until_s - 1e-9) {
      const { channel, t_s, value }: Reading = readings.next().value;
      if (channel === "voltage") sums.voltage.push((sums.voltage.at(-1) ?? 0) + room.mains_V(t_s));
      else if (isChannel(channel)) sums[channel].push((sums[channel].at(-1) ?? 0) + value);
    }
    return { sums, truth: rig.truth(orifice), knownWithin };
  });
  return {
    errorsAt(point, { settle_s, average_s }) {
      const trace = traces[point];
      if (!trace) throw new RangeError(`There is no point ${point}.`);
      const from = Math.round(settle_s / STEP_s);
      const to = Math.round((settle_s + average_s) / STEP_s);
      const meanOf = (channel: Channel | "voltage") => {
        const sums = trace.sums[channel];
        return ((sums[to] ?? Number.NaN) - (sums[from] ?? Number.NaN)) / (to - from);
      };
      return errorsOf(trace.truth, step, trace.knownWithin, {
        suction: meanOf("suction"),
        flow: meanOf("flow"),
        power: meanOf("power"),
        voltage: meanOf("voltage"),
      });
    },
  };
}

/**
 * The shortest settling and averaging of one point for which, over these units, the quantile of each channel's errors is no
 * larger than allowed: all averaging times, and the least settling of each, in steps of one reading.
 * @throws Error where none is
 */
export function shortestDwell(
  units: readonly Watched[],
  point: number,
  part: number,
  allowed: PointErrors,
): Dwell {
  const longest_s = point === 0 ? WATCHED_s.runUp : WATCHED_s.point;
  let best: Dwell | undefined;
  for (const average_s of AVERAGES_s) {
    const most_s = Math.min(longest_s, best ? total_s(best) - STEP_s / 2 : longest_s);
    for (let settle_s = 0; settle_s + average_s < most_s; settle_s += STEP_s) {
      const errors = units.map((unit) => unit.errorsAt(point, { settle_s, average_s }));
      if (!CHANNELS.every((channel) => errorQuantile(errors, channel, part) <= allowed[channel])) continue;
      best = { settle_s, average_s };
      break;
    }
  }
  if (!best) throw new Error(`No fixed dwell at point ${point} is as good as this.`);
  return best;
}

export function total_s({ settle_s, average_s }: Dwell): number {
  return settle_s + average_s;
}

export function errorQuantiles(errors: readonly PointErrors[], part: number): PointErrors {
  const of = (channel: Channel) => errorQuantile(errors, channel, part);
  return { suction: of("suction"), flow: of("flow"), power: of("power") };
}

function errorQuantile(errors: readonly PointErrors[], channel: Channel, part: number): number {
  return quantile(
    errors.map((error) => error[channel]),
    part,
  );
}

/** Of means stated at the step's supply voltage, as they are judged; the voltage as it was, whatever the meter made of it. */
function errorsOf(
  truth: AirflowState,
  { correction, supplyVoltage_V }: AirflowStep,
  knownWithin: number,
  means: Readonly<Record<Channel | "voltage", number>>,
): PointErrors {
  const speed = (means.voltage / supplyVoltage_V) ** (correction?.speedPerVoltage ?? 0);
  const error = (channel: Channel, true_: number) => {
    const wanted = Math.max((knownWithin / 2) * Math.abs(true_), FLOORS[channel] ?? 0);
    return Math.abs(means[channel] / speed ** PER_SPEED[channel] - true_) / wanted;
  };
  return {
    suction: error("suction", truth.suction_Pa),
    flow: error("flow", truth.flow_m3_s),
    power: error("power", truth.power_W),
  };
}

function isChannel(channel: string): channel is Channel {
  return CHANNELS.some((candidate) => candidate === channel);
}
