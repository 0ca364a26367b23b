import type { ModelLimits } from "../limits/model.ts";
import { type BodyDesign, bodyDesign } from "./bodies.ts";
import { inletMassFlow, STANDARD_CONDITIONS } from "./plant/airflow.ts";
import { STANDARD_DENSITY_kg_m3 } from "./plant/gas.ts";
import { capillariesLeaking, type LeakPath } from "./plant/leak-path.ts";
import { effectiveArea_m2, openArea_m2 } from "./plant/shutters.ts";
import { assemble, type SimulatedUnit } from "./population.ts";

/** A body that the inspector mounts to prove the station. */
export interface SimulatedReferencePiece {
  readonly kind: "tight" | "leak" | "orifice";
  /**
   * Leak pieces: m3/s at the house reference, at the model's leak test pressure. Orifice: m3/s of air of 1.20 kg/m3 at the
   * suction of its design.
   */
  readonly certified_m3_s: number;
  readonly unit: SimulatedUnit;
}

/** Part of the design's largest leak that the leak reference is made for. */
const REFERENCE_PART = 0.5;
const CAPILLARY_m = 0.02;
/** The plenum's widest opening, behind which an orifice piece is certified and held. */
const WIDEST = "orifice_2";

/**
 * The reference pieces of a model: a chosen body, sealed; the same with a capillary; and one with an orifice of its own in
 * front of the plenum's.
 */
export function referencePieces(
  limits: ModelLimits,
): Readonly<Record<SimulatedReferencePiece["kind"], SimulatedReferencePiece>> {
  const design = bodyDesign(limits.model);
  const leak_m3_s = (REFERENCE_PART * design.designLeak_mLmin * 1e-6) / 60;
  const pressure_Pa =
    limits.steps.find((step) => step.kind === "leak")?.testPressure_Pa ?? design.leakPressure_Pa;
  const own_m2 = effectiveArea_m2(design.referenceOrifice.bore_m);
  const orifice = chosenBody(design, "orifice");
  return {
    tight: { kind: "tight", certified_m3_s: 0, unit: chosenBody(design, "tight") },
    leak: {
      kind: "leak",
      certified_m3_s: leak_m3_s,
      unit: chosenBody(design, "leak", [capillariesLeaking(leak_m3_s, pressure_Pa, CAPILLARY_m)]),
    },
    orifice: {
      kind: "orifice",
      certified_m3_s: certifiedFlow_m3_s(own_m2, design.referenceOrifice.atSuction_Pa),
      unit: { ...orifice, cleaner: { ...orifice.cleaner, ownOrifice_m2: own_m2 } },
    },
  };
}

function chosenBody(
  design: BodyDesign,
  kind: SimulatedReferencePiece["kind"],
  leakPaths: readonly LeakPath[] = [],
): SimulatedUnit {
  const { model } = design;
  return {
    serial: `REF-${kind.toUpperCase()}-${model}`,
    model,
    parts: {},
    defects: [],
    ...assemble(design, {
      leakPaths,
      volumeFactor: 1,
      wallOffset_K: 0,
      speedFactor: 1,
      powerFactor: 1,
      runUpFactor: 1,
      filterFactor: 1,
    }),
  };
}

function certifiedFlow_m3_s(own_m2: number, atSuction_Pa: number): number {
  const { pressure_Pa } = STANDARD_CONDITIONS;
  const openings = { own_m2, plenum_m2: openArea_m2([WIDEST]) };
  return inletMassFlow(openings, STANDARD_CONDITIONS, pressure_Pa - atSuction_Pa) / STANDARD_DENSITY_kg_m3;
}

/** The same body with a calibrated leak screwed to it, of this rate at the house reference and this gauge pressure. */
export function withLeak(unit: SimulatedUnit, leak_m3_s: number, pressure_Pa: number): SimulatedUnit {
  const leakPaths = [...unit.body.leakPaths, capillariesLeaking(leak_m3_s, pressure_Pa, CAPILLARY_m)];
  return { ...unit, body: { ...unit.body, leakPaths } };
}

/** The same body with a rigid vessel connected to it. */
export function withVolume(unit: SimulatedUnit, added_m3: number): SimulatedUnit {
  return { ...unit, body: { ...unit.body, volume_m3: unit.body.volume_m3 + added_m3 } };
}
