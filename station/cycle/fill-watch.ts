import type { Reading } from "../../drivers/ports.ts";
import { type FillEnd, isHardlyAny } from "./fill-findings.ts";

export interface FillOrder {
  readonly target_Pa: number;
  readonly tolerance_Pa: number;
  readonly longest_s: number;
}

/** Enough for a median that a wild reading and the gauge's noise leave alone, and short against a fill. */
const READINGS_AT_END = 15;

/**
 * Follows a fill by the readings of leak_pressure and source_pressure. It ends with three samples in a row that are not
 * short of the target's tolerance (one wild reading must not end it), or when its longest time is over.
 * @returns what takes the readings one by one and gives the end when it has come
 */
export function fillWatch({ target_Pa, tolerance_Pa, longest_s }: FillOrder) {
  const body_Pa: number[] = [];
  const source_Pa: number[] = [];
  let first_s: number | undefined;
  let hardlyAny_s: number | undefined;
  let arrived = 0;
  const short_Pa = (value_Pa: number) => Math.sign(target_Pa) * (target_Pa - value_Pa);
  return ({ channel, t_s, value }: Pick<Reading, "channel" | "t_s" | "value">): FillEnd | undefined => {
    first_s ??= t_s;
    if (channel === "source_pressure") keepLast(source_Pa, value);
    if (channel === "leak_pressure") {
      keepLast(body_Pa, value);
      if (isHardlyAny(median(body_Pa.slice(-3)), target_Pa)) hardlyAny_s = t_s;
      arrived = short_Pa(value) <= tolerance_Pa ? arrived + 1 : 0;
    }
    const isOver = t_s - first_s >= longest_s;
    if (body_Pa.length < 3 || (arrived < 3 && !isOver)) return undefined;
    const pressure_Pa = median(arrived < 3 ? body_Pa : body_Pa.slice(-3));
    return {
      end: arrived < 3 ? "too_slow" : short_Pa(pressure_Pa) < -tolerance_Pa ? "overfilled" : "reached",
      rise_s: t_s - (hardlyAny_s ?? first_s),
      pressure_Pa,
      source_Pa: source_Pa.length > 0 ? median(source_Pa) : null,
    };
  };
}

function keepLast(values: number[], value: number): void {
  values.push(value);
  if (values.length > READINGS_AT_END) values.shift();
}

/** NaN of no values. */
export function median(values: readonly number[]): number {
  const ordered = [...values].sort((a, b) => a - b);
  const middle = ordered.length >> 1;
  const upper = ordered[middle] ?? Number.NaN;
  return ordered.length % 2 === 1 ? upper : (upper + (ordered[middle - 1] ?? Number.NaN)) / 2;
}
