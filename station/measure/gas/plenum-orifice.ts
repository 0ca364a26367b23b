import { pipeExpansibility } from "./iso-5167.ts";

/** A sharp-edged orifice through which a plenum draws air from the room, at one moment. */
export interface PlenumOrifice {
  readonly bore_m: number;
  /** Discharge coefficient: flow over that of the incompressible jet as wide as the bore, expansibility apart. */
  readonly coefficient: number;
  /** The room's pressure less the plenum's. */
  readonly drop_Pa: number;
  /** The room's, absolute. */
  readonly upstream_Pa: number;
  /** Of the room's air, humid as it is. */
  readonly density_kg_m3: number;
}

export interface OrificeFlow {
  readonly massFlow_kg_s: number;
  /** At the density of the air upstream. */
  readonly volumeFlow_m3_s: number;
  /** Flow over what an incompressible fluid of the same density would have; 1 at no drop. */
  readonly expansibility: number;
}

/**
 * Relative standard uncertainty of the expansibility of a plenum's orifice, per dp/p1; 0.4 % at 15 kPa. ISO 5167-2:2003,
 * 5.3.3.2, has 3.5 dp/(k p1) % at two standard deviations (from memory), 0.0125 here, for its plates in pipes. Buckingham's
 * formula, 1 - 0.41 dp/(k p1) in so wide a space (from memory), is lower by up to 0.042 dp/p1: taken as the half-width of a
 * rectangle, 0.024.
 */
export const PLENUM_EXPANSION_UNCERTAINTY = 0.027;

/**
 * Air drawn through a sharp edge from a room (at rest) into a plenum: m = C e (pi/4) d^2 sqrt(2 rho1 dp), with the
 * expansibility e of ISO 5167-2 in a space much wider than the bore, 1 - 0.351 (1 - (p2/p1)^(1/k)), k = 1.4. An isentropic
 * jet of one coefficient would pass too little at larger drops: behind a sharp edge it contracts less as it expands. For the
 * same reason the flow does not choke sharply. The standard means p2/p1 of at least 0.75; below, its formula is
 * continued, and grows with the drop up to 0.85 of p1.
 * @throws RangeError unless bore, coefficient, pressure and density are above zero, and the drop is at least 0 and below
 * the room's pressure
 * @example plenumOrificeFlow({ bore_m: 0.03, coefficient: 0.6, drop_Pa: 9000, upstream_Pa: 101325, density_kg_m3: 1.2 })
 *   // 0.060926 kg/s, 0.050771 m3/s, expansibility 0.97744
 * @see ISO 5167-2:2003 equation 5 at b = 0; ASTM F558's orifices of half an inch and more need a C of 0.59 to 0.605 with it
 * (from memory)
 */
export function plenumOrificeFlow(orifice: PlenumOrifice): OrificeFlow {
  const { bore_m, coefficient, drop_Pa, upstream_Pa, density_kg_m3 } = orifice;
  if (!(bore_m > 0 && coefficient > 0 && upstream_Pa > 0 && density_kg_m3 > 0)) {
    throw new RangeError("An orifice needs a bore, a coefficient, a pressure and a density above zero.");
  }
  if (!(drop_Pa >= 0 && drop_Pa < upstream_Pa)) {
    throw new RangeError(`Air of ${upstream_Pa} Pa absolute can't flow by a pressure drop of ${drop_Pa} Pa.`);
  }
  const expansibility = pipeExpansibility(0, (upstream_Pa - drop_Pa) / upstream_Pa);
  const jet_kg_s = (Math.PI / 4) * bore_m ** 2 * Math.sqrt(2 * density_kg_m3 * drop_Pa);
  const massFlow_kg_s = coefficient * expansibility * jet_kg_s;
  return { massFlow_kg_s, volumeFlow_m3_s: massFlow_kg_s / density_kg_m3, expansibility };
}
