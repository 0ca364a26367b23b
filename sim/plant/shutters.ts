/** The measuring plenum's shutters: sharp-edged orifices of the invented fixture, one per output of the I/O block. */

/** Discharge coefficient of a sharp orifice drawing from a room (common practice, no source: 0.60 to 0.62). */
export const ORIFICE_DISCHARGE = 0.62;

/** Bore of each shutter's orifice, m. */
export const SHUTTER_BORES_m: Readonly<Record<string, number>> = {
  orifice_1: 0.0165,
  orifice_2: 0.05,
  orifice_3: 0.01,
  orifice_4: 0.03,
};

/** The demo station's name for what the inlet sees, as the shutter that gives it; null is a closed inlet. */
export const DEMO_ORIFICES: Readonly<Record<string, string | null>> = {
  closed: null,
  working: "orifice_1",
  open: "orifice_2",
};

/** Discharge coefficient times area of the shutters that stand open together, m2. */
export function openArea_m2(openShutters: readonly string[]): number {
  let area_m2 = 0;
  for (const shutter of openShutters) area_m2 += effectiveArea_m2(SHUTTER_BORES_m[shutter] ?? 0);
  return area_m2;
}

/** Discharge coefficient times area of one sharp-edged bore, m2. */
export function effectiveArea_m2(bore_m: number): number {
  return (ORIFICE_DISCHARGE * Math.PI * bore_m ** 2) / 4;
}
