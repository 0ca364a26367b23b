import type { Reading } from "../../drivers/ports.ts";
import { hasStoodStill } from "../measure/fit/standstill.ts";
import type { EarlyDecision } from "../measure/leak/leak-looks.ts";
import type { AirflowFinding } from "./airflow-findings.ts";
import { airflowChannels } from "./airflow-readings.ts";
import { type ClosedBody, gapWatch, jumpWatch } from "./curve-trust.ts";
import type { FillEnd } from "./fill-findings.ts";
import { type FillOrder, fillWatch } from "./fill-watch.ts";
import type { ComparedGauges } from "./gauge-comparison.ts";
import { type AirflowSamples, type PointOrder, pointWatch } from "./point-watch.ts";
import type { Reason } from "./reason.ts";
import { type RunUpOrder, runUpWatch } from "./run-up-watch.ts";
import { comparisonWatch, pressureWatch, valveTrialWatch } from "./trial-watches.ts";
import type { ValveTrial } from "./valve-findings.ts";

/** What a phase asks to be told about. Channels are the station's: leak_pressure, source_pressure, suction, flow, flow_drop, power, voltage. */
export type Observation =
  | { readonly watch: "valve_trial"; readonly sourceReadings: number; readonly body: ClosedBody }
  | ({ readonly watch: "fill" } & FillOrder)
  | {
      readonly watch: "curve";
      readonly origin_s: number;
      readonly duration_s: number;
      /** Given where nothing but a leak may move the pressure. */
      readonly closed?: ClosedBody;
      readonly looks?: LooksOrder;
    }
  /** The body's pressure after so long. */
  | { readonly watch: "pressure"; readonly after_s: number }
  /** Leak and source gauge on the same air, after so long. */
  | { readonly watch: "comparison"; readonly after_s: number }
  | { readonly watch: "vented"; readonly within_Pa: number }
  | ({ readonly watch: "run_up" } & RunUpOrder)
  | ({ readonly watch: "point" } & PointOrder)
  | { readonly watch: "stopped"; readonly below_W: number };

/** When a curve is looked at before its time is over. Times are since its first sample. */
export interface LooksOrder {
  readonly first_s: number;
  readonly every_s: number;
  readonly lookAt: LookAtCurve;
}

/**
 * Asked with the curve so far; null when that is not enough for a certain verdict. The arrays are the watcher's own and
 * grow on: read them, and keep nothing of them.
 */
export type LookAtCurve = (curve: CurveSamples) => EarlyDecision | null;

/** The looks a curve was measured with. */
export interface LooksTaken {
  readonly number: number;
  /** Time of the last one, since the attempt's start. */
  readonly at_s: number;
  /** Whether it ended the measurement, and why; otherwise that went on to the end. */
  readonly early: boolean;
  readonly decision?: EarlyDecision;
}

/** Pressure samples in whole microseconds since the attempt's start and whole millipascals: what is kept is what is measured. */
export interface CurveSamples {
  readonly t_us: readonly number[];
  readonly pressure_mPa: readonly number[];
}

/** The phase has what it waited for. */
export type Outcome =
  | { readonly kind: "reached" }
  /** With the time of the first of the readings that show it, on the clock. */
  | { readonly kind: "vented"; readonly at_s: number }
  | { readonly kind: "valve_trial"; readonly trial: ValveTrial }
  | { readonly kind: "pressure"; readonly pressure_Pa: number }
  | { readonly kind: "comparison"; readonly compared: ComparedGauges }
  | { readonly kind: "fill"; readonly fill: FillEnd }
  /** With the looks, if any was taken. */
  | { readonly kind: "curve"; readonly curve: CurveSamples; readonly look?: LooksTaken }
  /** The motor is up, with all readings since it was switched on. */
  | { readonly kind: "run_up"; readonly readings: readonly Reading[] }
  /** A point's means are known. */
  | { readonly kind: "steady"; readonly samples: AirflowSamples }
  /** Run-up or point can't end well, and why. */
  | { readonly kind: "finding"; readonly finding: AirflowFinding };

/** The readings can't be trusted, and why. */
export interface Untrusted {
  readonly kind: "untrusted";
  readonly reason: Reason;
}

const GAUGE_FROZEN: Reason = {
  code: "GAUGE_FROZEN",
  sentence:
    "The leak gauge stood still and showed the same value time after time. Switch it off and on, check it, then acknowledge.",
};

/** That the source is healthy is said by its gauge alone. */
const SOURCE_GAUGE_FROZEN: Reason = {
  code: "GAUGE_FROZEN",
  sentence:
    "The source gauge stood still and showed the same value time after time. Switch it off and on, check it, then acknowledge.",
};

/** Looks at readings as they come, until it has seen what the phase waits for. Pure: no clock of its own, no I/O. */
export interface Watcher {
  readonly channels: readonly string[];
  accept(readings: readonly Reading[]): Outcome | Untrusted | undefined;
  /** The newest value of each channel, for the fault's words and the screen. */
  latest(channel: string): number | undefined;
}

/** @returns a fresh watcher for one phase */
export function createWatcher(observation: Observation): Watcher {
  switch (observation.watch) {
    case "valve_trial":
      return watching(["source_pressure", "leak_pressure"], valveTrial(observation));
    case "pressure":
      return watching(["leak_pressure"], pressureAfter(observation.after_s));
    case "comparison":
      return watching(["leak_pressure", "source_pressure"], comparison(observation.after_s));
    case "fill":
      return watching(["leak_pressure", "source_pressure"], filling(observation));
    case "curve":
      return watching(["leak_pressure"], curveWatch(observation));
    case "vented":
      return watching(
        ["leak_pressure"],
        inARow(
          "leak_pressure",
          5,
          (p_Pa) => Math.abs(p_Pa) <= observation.within_Pa,
          (at_s) => ({ kind: "vented", at_s }),
        ),
      );
    case "run_up":
      return watching(airflowChannels(observation.flowChannel), runUpWatch(observation));
    case "point":
      return watching(airflowChannels(observation.flowChannel), pointWatch(observation));
    case "stopped":
      return watching(
        ["power"],
        inARow(
          "power",
          3,
          (power_W) => power_W < observation.below_W,
          () => ({ kind: "reached" }),
        ),
      );
  }
}

type Accept = (reading: Reading) => Outcome | Untrusted | undefined;

function watching(channels: readonly string[], accept: Accept): Watcher {
  const newest = new Map<string, number>();
  return {
    channels,
    latest: (channel) => newest.get(channel),
    accept(readings) {
      for (const reading of readings) {
        if (!channels.includes(reading.channel)) continue;
        const doubt = distrust(reading);
        if (doubt) return { kind: "untrusted", reason: doubt };
        newest.set(reading.channel, reading.value);
        const outcome = accept(reading);
        if (outcome) return outcome;
      }
      return undefined;
    },
  };
}

function distrust(reading: Reading): Reason | undefined {
  if (reading.quality === "over-range") {
    return {
      code: "GAUGE_OVER_RANGE",
      sentence: `The ${inWords(reading.channel)} gauge is over its range. Check what is connected to it, then acknowledge.`,
    };
  }
  if (reading.quality === "invalid" || !Number.isFinite(reading.value)) {
    return {
      code: "GAUGE_INVALID",
      sentence: `The ${inWords(reading.channel)} gauge reports that it can't measure. Check the sensor and its cable, then acknowledge.`,
    };
  }
  return undefined;
}

function inWords(channel: string): string {
  return channel.replaceAll("_", " ");
}

function valveTrial({ sourceReadings, body }: Extract<Observation, { watch: "valve_trial" }>): Accept {
  const accept = valveTrialWatch(sourceReadings, body);
  return (reading) => {
    const seen = accept(reading);
    if (!seen) return undefined;
    return "reason" in seen
      ? { kind: "untrusted", reason: seen.reason }
      : { kind: "valve_trial", trial: seen.trial };
  };
}

function pressureAfter(after_s: number): Accept {
  const accept = pressureWatch(after_s);
  return (reading) => {
    const pressure_Pa = accept(reading);
    return pressure_Pa === undefined ? undefined : { kind: "pressure", pressure_Pa };
  };
}

function comparison(after_s: number): Accept {
  const accept = comparisonWatch(after_s);
  return (reading) => {
    const compared = accept(reading);
    return compared && { kind: "comparison", compared };
  };
}

function filling(order: FillOrder): Accept {
  const accept = fillWatch(order);
  const body_Pa: number[] = [];
  const source_Pa: number[] = [];
  return (reading) => {
    (reading.channel === "leak_pressure" ? body_Pa : source_Pa).push(reading.value);
    const fill = accept(reading);
    if (fill?.end === "too_slow") {
      if (hasStoodStill(body_Pa)) return { kind: "untrusted", reason: GAUGE_FROZEN };
      if (hasStoodStill(source_Pa)) return { kind: "untrusted", reason: SOURCE_GAUGE_FROZEN };
    }
    return fill && { kind: "fill", fill };
  };
}

function curveWatch({
  origin_s,
  duration_s,
  closed,
  looks,
}: Extract<Observation, { watch: "curve" }>): Accept {
  const gaps = gapWatch();
  const jumps = closed && jumpWatch(closed);
  const t_us: number[] = [];
  const pressure_mPa: number[] = [];
  const soFar: CurveSamples = { t_us, pressure_mPa };
  // Decided on the whole microseconds that are kept, so that the stored curve ends, and is looked at, where this one was.
  const duration_us = microseconds(duration_s);
  const every_us = microseconds(looks?.every_s ?? 0);
  let next_us = looks ? microseconds(looks.first_s) : Number.POSITIVE_INFINITY;
  let first_us: number | undefined;
  let look: LooksTaken | undefined;
  return ({ t_s, value }) => {
    const doubt = gaps(t_s) ?? jumps?.accept(t_s, value);
    if (doubt) return { kind: "untrusted", reason: doubt };
    const at_us = microseconds(t_s - origin_s);
    first_us ??= at_us;
    t_us.push(at_us);
    pressure_mPa.push(Math.round(value * 1000));
    const elapsed_us = at_us - first_us;
    if (elapsed_us < duration_us) {
      if (!looks || elapsed_us < next_us || jumps?.doubt) return undefined;
      // Looks stay on their grid; those that fell into a gap of the readings are left out.
      next_us += (Math.floor((elapsed_us - next_us) / every_us) + 1) * every_us;
      const decision = looks.lookAt(soFar);
      const taken = { number: (look?.number ?? 0) + 1, at_s: at_us / 1e6 };
      look = decision ? { ...taken, early: true, decision } : { ...taken, early: false };
      if (!decision) return undefined;
    }
    const reason = hasStoodStill(pressure_mPa) ? GAUGE_FROZEN : jumps?.doubt;
    if (reason) return { kind: "untrusted", reason };
    const curve = { t_us: [...t_us], pressure_mPa: [...pressure_mPa] };
    return { kind: "curve", curve, ...(look ? { look } : {}) };
  };
}

function microseconds(seconds: number): number {
  return Math.round(seconds * 1e6);
}

function inARow(
  channel: string,
  count: number,
  holds: (value: number) => boolean,
  outcome: (first_s: number) => Outcome,
): Accept {
  let run = 0;
  let first_s = Number.NaN;
  return (reading) => {
    if (reading.channel !== channel) return undefined;
    run = holds(reading.value) ? run + 1 : 0;
    if (run === 1) first_s = reading.t_s;
    return run >= count ? outcome(first_s) : undefined;
  };
}
