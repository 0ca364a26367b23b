import { criticalPressureRatio, isentropicFlux } from "./isentropic-jet.ts";

/** A sharp-edged orifice through which a plenum draws air from the room, at one moment. */
export interface PlenumOrifice {
  readonly bore_m: number;
  /** Discharge coefficient: flow over that of the ideal jet as wide as the bore. */
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
  /** A lower pressure in the plenum lets no more air through. */
  readonly choked: boolean;
}

/**
 * Air drawn through a sharp edge from a room (at rest) into a plenum: m = C A sqrt(p1 rho1) times the flux of an
 * isentropic jet of k = 1.4, choked where it chokes. Density and pressure are told apart, so that humid air is right.
 * @throws RangeError unless bore, coefficient, pressure and density are above zero, and the drop is at least 0 and below
 * the room's pressure
 * @example plenumOrificeFlow({ bore_m: 0.03, coefficient: 0.6, drop_Pa: 9000, upstream_Pa: 101325, density_kg_m3: 1.2 })
 *   // 0.059292 kg/s, 0.049410 m3/s, expansibility 0.95123
 * @see Saint-Venant and Wantzel 1839; isentropic nozzle flow in gas dynamics texts
 */
export function plenumOrificeFlow(orifice: PlenumOrifice): OrificeFlow {
  const { bore_m, coefficient, drop_Pa, upstream_Pa, density_kg_m3 } = orifice;
  if (!(bore_m > 0 && coefficient > 0 && upstream_Pa > 0 && density_kg_m3 > 0)) {
    throw new RangeError("An orifice needs a bore, a coefficient, a pressure and a density above zero.");
  }
  if (!(drop_Pa >= 0 && drop_Pa < upstream_Pa)) {
    throw new RangeError(`Air of ${upstream_Pa} Pa absolute can't flow by a pressure drop of ${drop_Pa} Pa.`);
  }
  const ratio = (upstream_Pa - drop_Pa) / upstream_Pa;
  const perFlux_kg_s = coefficient * (Math.PI / 4) * bore_m ** 2 * Math.sqrt(upstream_Pa * density_kg_m3);
  const flux = isentropicFlux(ratio);
  const incompressible = Math.sqrt((2 * drop_Pa) / upstream_Pa);
  const massFlow_kg_s = perFlux_kg_s * flux;
  return {
    massFlow_kg_s,
    volumeFlow_m3_s: massFlow_kg_s / density_kg_m3,
    expansibility: ratio === 1 ? 1 : flux / incompressible,
    choked: ratio <= criticalPressureRatio(),
  };
}
