import { airViscosity_Pa_s } from "../gas/dry-air.ts";
import { pipeOrificeFlow } from "../gas/iso-5167.ts";
import { plenumOrificeFlow } from "../gas/plenum-orifice.ts";
import type { PipePlate } from "./airflow-evidence.ts";

/** The room's air that is drawn in. */
export interface DrawnAir {
  readonly temperature_K: number;
  readonly pressure_Pa: number;
  readonly density_kg_m3: number;
}

/**
 * Flow from the room through an orifice into the plenum. A drop below zero, which a gauge's zero can make of none, gives
 * a flow below zero, so that the uncertainty of a body that hardly pulls is whole.
 * @returns m3/s at the room's density
 * @example plenumFlow_m3_s({ bore_m: 0.03, coefficient: 0.6 }, 9000,
 *   { temperature_K: 293.15, pressure_Pa: 101325, density_kg_m3: 1.2 }) // 0.050771
 */
export function plenumFlow_m3_s(
  orifice: { readonly bore_m: number; readonly coefficient: number },
  drop_Pa: number,
  air: DrawnAir,
): number {
  const { bore_m, coefficient } = orifice;
  const flow = plenumOrificeFlow({ bore_m, coefficient, drop_Pa: Math.abs(drop_Pa), ...upstream(air) });
  return Math.sign(drop_Pa) * flow.volumeFlow_m3_s;
}

/**
 * Flow from the room through a pipe with an orifice plate; a drop below zero as in plenumFlow_m3_s.
 * @param coefficient null is the one of ISO 5167-2
 * @returns m3/s at the room's density
 * @example pipeFlow_m3_s({ pipe_m: 0.1, bore_m: 0.06, taps: "corner" }, null, 1000,
 *   { temperature_K: 293.15, pressure_Pa: 101325, density_kg_m3: 1.2 }) // 0.075527
 */
export function pipeFlow_m3_s(
  plate: Pick<PipePlate, "pipe_m" | "bore_m" | "taps">,
  coefficient: number | null,
  drop_Pa: number,
  air: DrawnAir,
): number {
  return Math.sign(drop_Pa) * throughPlate(plate, coefficient, Math.abs(drop_Pa), air).volumeFlow_m3_s;
}

/**
 * Relative standard uncertainty that ISO 5167-2 gives the flow at this drop: of its coefficient, where that is the one in
 * use, and of its expansibility.
 * @returns null outside the standard's limits of use, as at the slow flow of a blocked body: there it vouches for nothing
 * @example plateUncertainty({ pipe_m: 0.1, bore_m: 0.06, taps: "corner" }, null, 1000,
 *   { temperature_K: 293.15, pressure_Pa: 101325, density_kg_m3: 1.2 }) // 0.0025
 */
export function plateUncertainty(
  plate: Pick<PipePlate, "pipe_m" | "bore_m" | "taps">,
  coefficient: number | null,
  drop_Pa: number,
  air: DrawnAir,
): number | null {
  const flow = throughPlate(plate, coefficient, Math.abs(drop_Pa), air);
  if (coefficient === null && flow.outside.length > 0) return null;
  return Math.hypot(flow.uncertainty ?? 0, flow.expansibilityUncertainty);
}

function throughPlate(
  { pipe_m, bore_m, taps }: Pick<PipePlate, "pipe_m" | "bore_m" | "taps">,
  coefficient: number | null,
  drop_Pa: number,
  air: DrawnAir,
) {
  const viscosity_Pa_s = airViscosity_Pa_s(air.temperature_K);
  const plate = { pipe_m, bore_m, taps, drop_Pa, viscosity_Pa_s, ...upstream(air) };
  return pipeOrificeFlow(coefficient === null ? plate : { ...plate, coefficient });
}

function upstream({ pressure_Pa, density_kg_m3 }: DrawnAir) {
  return { upstream_Pa: pressure_Pa, density_kg_m3 };
}
