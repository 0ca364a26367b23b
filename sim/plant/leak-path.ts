import {
  airDensity_kg_m3,
  atReference_m3_s,
  capillaryMassFlow,
  orificeMassFlow,
  REFERENCE_PRESSURE_Pa,
  REFERENCE_TEMPERATURE_K,
} from "./gas.ts";

/** A way through the wall. Several equal capillaries stand for porous material. */
export type LeakPath =
  | { readonly kind: "orifice"; readonly effectiveArea_m2: number }
  | {
      readonly kind: "capillary";
      readonly radius_m: number;
      readonly length_m: number;
      readonly count: number;
    };

/** State of the air on one side of a wall: absolute pressure and temperature. */
export interface AirState {
  readonly pressure_Pa: number;
  readonly temperature_K: number;
}

// A sharp orifice's flow grows with infinite slope at rest; below this it is taken as linear, as laminar flow is.
const LINEAR_BELOW_Pa = 10;

/** Mass flow outwards through a path, kg/s, negative when air comes in. */
function pathMassFlow(path: LeakPath, inside: AirState, outside: AirState): number {
  const outwards = inside.pressure_Pa >= outside.pressure_Pa;
  const upstream = outwards ? inside : outside;
  const downstream_Pa = outwards ? outside.pressure_Pa : inside.pressure_Pa;
  const flow =
    path.kind === "orifice"
      ? valveMassFlow(path.effectiveArea_m2, upstream.pressure_Pa, downstream_Pa, upstream.temperature_K)
      : path.count *
        capillaryMassFlow(
          path.radius_m,
          path.length_m,
          upstream.pressure_Pa,
          downstream_Pa,
          upstream.temperature_K,
        );
  return outwards ? flow : -flow;
}

/** All paths together, kg/s outwards. */
export function pathsMassFlow(paths: readonly LeakPath[], inside: AirState, outside: AirState): number {
  let sum = 0;
  for (const path of paths) sum += pathMassFlow(path, inside, outside);
  return sum;
}

/** Orifice flow that is linear close to rest; the same as orificeMassFlow elsewhere. */
export function valveMassFlow(
  effectiveArea_m2: number,
  upstream_Pa: number,
  downstream_Pa: number,
  upstream_K: number,
): number {
  const difference_Pa = upstream_Pa - downstream_Pa;
  if (difference_Pa >= LINEAR_BELOW_Pa) {
    return orificeMassFlow(effectiveArea_m2, upstream_Pa, downstream_Pa, upstream_K);
  }
  // Incompressible at the edge: within 1e-4 of the compressible flow there, and far cheaper.
  const density_kg_m3 = airDensity_kg_m3(upstream_Pa, upstream_K);
  const atEdge = effectiveArea_m2 * Math.sqrt(2 * density_kg_m3 * LINEAR_BELOW_Pa);
  return (atEdge * difference_Pa) / LINEAR_BELOW_Pa;
}

/**
 * Leak rate of these paths with the inside held at a gauge pressure, both sides at 293.15 K and the outside at
 * 101325 Pa: m3/s at the house reference, positive whichever way the air goes.
 */
export function leakRate_m3_s(paths: readonly LeakPath[], gaugePressure_Pa: number): number {
  const outside = { pressure_Pa: REFERENCE_PRESSURE_Pa, temperature_K: REFERENCE_TEMPERATURE_K };
  const inside = {
    pressure_Pa: REFERENCE_PRESSURE_Pa + gaugePressure_Pa,
    temperature_K: REFERENCE_TEMPERATURE_K,
  };
  return Math.abs(atReference_m3_s(pathsMassFlow(paths, inside, outside)));
}

/** The orifice that leaks this much (m3/s at reference) at this gauge pressure. */
export function orificeLeaking(leak_m3_s: number, gaugePressure_Pa: number): LeakPath {
  const perArea = leakRate_m3_s([{ kind: "orifice", effectiveArea_m2: 1 }], gaugePressure_Pa);
  return { kind: "orifice", effectiveArea_m2: leak_m3_s / perArea };
}

/** Equal capillaries of this length, each at most 80 um wide, that together leak this much (m3/s at reference). */
export function capillariesLeaking(leak_m3_s: number, gaugePressure_Pa: number, length_m: number): LeakPath {
  const widest = { kind: "capillary", radius_m: 40e-6, length_m, count: 1 } as const;
  const each_m3_s = leakRate_m3_s([widest], gaugePressure_Pa);
  const count = Math.max(1, Math.ceil(leak_m3_s / each_m3_s));
  const radius_m = widest.radius_m * (leak_m3_s / (count * each_m3_s)) ** 0.25;
  return { kind: "capillary", radius_m, length_m, count };
}
