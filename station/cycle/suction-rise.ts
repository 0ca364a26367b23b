import { isStillRising } from "../measure/steady/steady-window.ts";
import type { Trend } from "../measure/steady/trend.ts";
import type { AirflowOrder, AirflowReadings } from "./airflow-readings.ts";

/** A slope is taken as this many of its standard uncertainties steeper than it seems. */
const SURE = 2;

/** How suction rose up to now. */
export type SuctionRise =
  | { readonly kind: "none" }
  /** The motor's doing; at the end by so much in a second. */
  | { readonly kind: "motor"; readonly slope_Pa_s: number }
  /** No more than the supply's own rise explains. */
  | { readonly kind: "supply" };

/**
 * Whether the suction of a motor that never became steady still rises, and whether the supply explains it: by the fan laws
 * suction follows speed squared, and speed the voltage to a power that the limit file states.
 */
export function suctionRise(order: AirflowOrder, readings: AirflowReadings): SuctionRise {
  const starts_s = readings.allWindowStarts_s();
  const [shortest_s] = starts_s;
  if (shortest_s === undefined) return { kind: "none" };
  const newer_s = (shortest_s + readings.now_s) / 2;
  if (rises(withoutSupply)) return { kind: "motor", slope_Pa_s: withoutSupply(newer_s)?.slope ?? 0 };
  const isSupply = rises(asRead) && 2 * explained_Pa_s(shortest_s) > (asRead(shortest_s)?.slope ?? 0);
  return { kind: isSupply ? "supply" : "none" };

  function rises(trendFrom: (from_s: number) => Trend | null): boolean {
    const windows = starts_s.map(trendFrom);
    const newer = trendFrom(newer_s);
    if (!newer || !windows.every((it) => it !== null)) return false;
    return isStillRising(windows, newer, order.steady, order.scatterFloor("suction"));
  }

  function asRead(from_s: number): Trend | null {
    return readings.of("suction").trendSince(from_s);
  }

  function withoutSupply(from_s: number): Trend | null {
    const suction = asRead(from_s);
    return suction && { ...suction, slope: suction.slope - explained_Pa_s(from_s) };
  }

  /** A supply that nobody has seen may explain everything. */
  function explained_Pa_s(from_s: number): number {
    const voltage = readings.of("voltage").trendSince(from_s);
    if (!voltage) return Number.POSITIVE_INFINITY;
    const relative_s = Math.max(0, voltage.slope + voltage.slopeUncertainty) / voltage.mean;
    return order.suctionPerVoltage * relative_s * (asRead(from_s)?.mean ?? 0);
  }
}

/** Whether the supply's own drift takes the suction further than a steady one may go, as it did over the longest window. */
export function doesSupplyDrift(order: AirflowOrder, readings: AirflowReadings): boolean {
  const from_s = readings.allWindowStarts_s().at(-1);
  const voltage = from_s === undefined ? null : readings.of("voltage").trendSince(from_s);
  if (!voltage) return false;
  const surely_s = Math.max(0, Math.abs(voltage.slope) - SURE * voltage.slopeUncertainty) / voltage.mean;
  return order.suctionPerVoltage * surely_s * order.steady.ahead_s > order.steady.within;
}
