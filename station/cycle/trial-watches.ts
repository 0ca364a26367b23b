import type { Reading } from "../../drivers/ports.ts";
import { fitLine } from "../measure/fit/line-fit.ts";
import { type ClosedBody, stepWatch } from "./curve-trust.ts";
import { median } from "./fill-watch.ts";
import type { ComparedGauges } from "./gauge-comparison.ts";
import type { Reason } from "./reason.ts";
import type { ValveTrial, VentTrial } from "./valve-findings.ts";

type Seen = Pick<Reading, "channel" | "t_s" | "value">;

/** A valve that passes shows within less. */
const TRIAL_SHORTEST_s = 0.08;
const LEAST_FOR_A_RATE = 3;
/** Medians of so many readings leave a wild one and the noise alone. */
const READINGS_AT_END = 15;
const FEW_AT_END = 5;

/**
 * Watches body and source for a moment with a valve shut.
 * @param sourceReadings how many of the source are wanted
 * @returns what takes readings and gives the trial, or why the leak gauge can't be trusted
 */
export function valveTrialWatch(sourceReadings: number, body: ClosedBody) {
  const source_Pa: number[] = [];
  const t_s: number[] = [];
  const body_Pa: number[] = [];
  const steps = stepWatch(body);
  let first_s: number | undefined;
  return (reading: Seen): { readonly trial: ValveTrial } | { readonly reason: Reason } | undefined => {
    first_s ??= reading.t_s;
    if (reading.channel === "source_pressure") source_Pa.push(reading.value);
    else {
      const reason = steps(reading.t_s, reading.value);
      if (reason) return { reason };
      t_s.push(reading.t_s);
      body_Pa.push(reading.value);
    }
    const hasLasted = reading.t_s - first_s >= TRIAL_SHORTEST_s - 1e-9;
    if (!hasLasted || source_Pa.length < sourceReadings) return undefined;
    return { trial: { source_Pa, ...rateOf(t_s, body_Pa, body.gaugeFloor_Pa) } };
  };
}

/** Watches the body for so long. @returns what gives the median of the last readings of leak_pressure */
export function pressureWatch(seconds: number) {
  const last_Pa: number[] = [];
  let first_s: number | undefined;
  return ({ t_s, value }: Seen): VentTrial["open_Pa"] | undefined => {
    first_s ??= t_s;
    last_Pa.push(value);
    if (last_Pa.length > FEW_AT_END) last_Pa.shift();
    return t_s - first_s >= seconds && last_Pa.length >= FEW_AT_END ? median(last_Pa) : undefined;
  };
}

/** Watches leak and source gauge for so long on the same air. */
export function comparisonWatch(seconds: number) {
  const source_Pa: number[] = [];
  const t_s: number[] = [];
  const body_Pa: number[] = [];
  let first_s: number | undefined;
  return (reading: Seen): ComparedGauges | undefined => {
    first_s ??= reading.t_s;
    if (reading.channel === "source_pressure") keepLast(source_Pa, reading.value);
    else {
      keepLast(t_s, reading.t_s);
      keepLast(body_Pa, reading.value);
    }
    const isOver = reading.t_s - first_s >= seconds;
    if (!isOver || source_Pa.length < FEW_AT_END || body_Pa.length < FEW_AT_END) return undefined;
    const { body_Pa_s } = rateOf(t_s, body_Pa, 0);
    return { leak_Pa: median(body_Pa), source_Pa: median(source_Pa), rate_Pa_s: body_Pa_s ?? 0 };
  };
}

function rateOf(t_s: readonly number[], body_Pa: readonly number[], gaugeFloor_Pa: number) {
  const span_s = (t_s.at(-1) ?? 0) - (t_s[0] ?? 0);
  if (t_s.length < LEAST_FOR_A_RATE || !(span_s > 0)) return { body_Pa_s: null, uncertainty_Pa_s: 0 };
  const middle_s = t_s.reduce((sum, it) => sum + it, 0) / t_s.length;
  const squares_s2 = t_s.reduce((sum, it) => sum + (it - middle_s) ** 2, 0);
  return {
    body_Pa_s: fitLine(t_s, body_Pa).slope,
    uncertainty_Pa_s: gaugeFloor_Pa / Math.sqrt(squares_s2),
  };
}

function keepLast(values: number[], value: number): void {
  values.push(value);
  if (values.length > READINGS_AT_END) values.shift();
}
