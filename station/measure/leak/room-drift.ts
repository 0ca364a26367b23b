import { rectangular } from "../fit/uncertainty.ts";

/**
 * Drift of the room that a gauge-pressure decay cannot tell from a leak: 1 K/h felt by the gas in full, and 1 hPa/h of
 * the barometer (common practice, no source; both are a quiet factory's bounds, taken as rectangular).
 */
export const ROOM_DRIFT_K_PER_S = 1 / 3600;
export const BAROMETER_DRIFT_PA_PER_S = 100 / 3600;

/** Standard uncertainty that the room's drift gives to a slope of gas shut in at this absolute pressure and temperature. */
export function roomDrift_Pa_s(absolute_Pa: number, temperature_K: number): number {
  return Math.hypot(
    rectangular((ROOM_DRIFT_K_PER_S * absolute_Pa) / temperature_K),
    rectangular(BAROMETER_DRIFT_PA_PER_S),
  );
}
