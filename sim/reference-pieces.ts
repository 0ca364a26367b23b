import type { ModelLimits } from "../limits/model.ts";
import { bodyDesign } from "./bodies.ts";
import { capillariesLeaking } from "./plant/leak-path.ts";
import { assemble, type SimulatedUnit } from "./population.ts";

/** A piece of known leak that the inspector mounts to prove the station. */
export interface SimulatedReferencePiece {
  readonly kind: "tight" | "leak";
  /** m3/s at the house reference, at the model's leak test pressure. */
  readonly certified_m3_s: number;
  readonly unit: SimulatedUnit;
}

/** Part of the design's largest leak that the leak reference is made for. */
const REFERENCE_PART = 0.5;
const CAPILLARY_m = 0.02;

/** The tight reference and the leak reference of a model: a chosen body, sealed, and the same with a capillary. */
export function referencePieces(limits: ModelLimits): {
  readonly tight: SimulatedReferencePiece;
  readonly leak: SimulatedReferencePiece;
} {
  const design = bodyDesign(limits.model);
  const certified_m3_s = (REFERENCE_PART * design.designLeak_mLmin * 1e-6) / 60;
  const pressure_Pa =
    limits.steps.find((step) => step.kind === "leak")?.testPressure_Pa ?? design.leakPressure_Pa;
  const piece = (kind: "tight" | "leak", rate_m3_s: number): SimulatedReferencePiece => ({
    kind,
    certified_m3_s: rate_m3_s,
    unit: {
      serial: `REF-${kind.toUpperCase()}-${limits.model}`,
      model: limits.model,
      parts: {},
      defects: [],
      ...assemble(design, {
        leakPaths: rate_m3_s > 0 ? [capillariesLeaking(rate_m3_s, pressure_Pa, CAPILLARY_m)] : [],
        volumeFactor: 1,
        wallOffset_K: 0,
        speedFactor: 1,
        powerFactor: 1,
        runUpFactor: 1,
        filterFactor: 1,
      }),
    },
  });
  return { tight: piece("tight", 0), leak: piece("leak", certified_m3_s) };
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
