import type { BodyDesign } from "./bodies.ts";
import { capillariesLeaking, type LeakPath, orificeLeaking } from "./plant/leak-path.ts";
import type { RandomStream } from "./random.ts";

export type DefectName =
  | "missing_gasket"
  | "pinched_gasket"
  | "crooked_lid"
  | "cracked_tub"
  | "porous_moulding"
  | "loose_hose_seal"
  | "blocked_inlet"
  | "missing_filter"
  | "weak_motor"
  | "wrong_motor"
  | "motor_dead"
  | "tight_bearing"
  | "shorted_winding";

/** What a defect does to a unit: leaks and losses it adds, factors it multiplies. */
export interface DefectEffect {
  readonly leakPaths?: readonly LeakPath[];
  readonly speedFactor?: number;
  readonly powerFactor?: number;
  readonly runUpFactor?: number;
  readonly shortedLoss_W?: number;
  readonly inletFactor?: number;
  readonly filterFactor?: number;
}

interface Defect {
  /** How often against the other defects (invented for the demo). */
  readonly weight: (design: BodyDesign, parts: Readonly<Record<string, string>>) => number;
  readonly draw: (design: BodyDesign, random: RandomStream) => DefectEffect;
}

const WALL_m = 0.003;
/** How often a tub is cracked that does not come from the cavity with the worn gate. */
const ELSEWHERE_CRACKED = 4;

const DEFECTS: Readonly<Record<DefectName, Defect>> = {
  missing_gasket: {
    weight: () => 8,
    draw: (design, random) => ({
      leakPaths: [{ kind: "orifice", effectiveArea_m2: design.gasketGap_m2 * random.between(0.7, 1.4) }],
    }),
  },
  pinched_gasket: {
    weight: () => 16,
    draw: (design, random) => ({ leakPaths: [orificeOf(design, random, 2, 20)] }),
  },
  crooked_lid: {
    weight: () => 9,
    draw: (design, random) => ({ leakPaths: [orificeOf(design, random, 30, 150)] }),
  },
  cracked_tub: {
    weight: (design, parts) =>
      parts.tub_cavity === design.crackingCavity ? design.crackingWeight : ELSEWHERE_CRACKED,
    draw: (design, random) => ({ leakPaths: [orificeOf(design, random, 1.8, 30)] }),
  },
  porous_moulding: {
    weight: (design, parts) => (parts.tub_cavity === design.porousCavity ? 60 : 0),
    draw: (design, random) => ({
      leakPaths: [capillariesLeaking(leak_m3_s(design, random, 1.3, 6), design.leakPressure_Pa, WALL_m)],
    }),
  },
  loose_hose_seal: {
    weight: () => 6,
    draw: (design, random) => ({ leakPaths: [orificeOf(design, random, 5, 40)] }),
  },
  blocked_inlet: {
    weight: () => 8,
    draw: (design, random) => ({
      // A rag or a flash of plastic in the inlet: several times the filter's resistance.
      inletFactor: (random.between(3, 12) * design.filterResistance) / design.inletResistance,
    }),
  },
  missing_filter: { weight: () => 8, draw: () => ({ filterFactor: 0 }) },
  weak_motor: {
    weight: () => 9,
    draw: (_design, random) => ({ speedFactor: random.between(0.8, 0.91) }),
  },
  wrong_motor: { weight: () => 5, draw: (design) => design.wrongMotor },
  motor_dead: { weight: () => 4, draw: () => ({ speedFactor: 0 }) },
  tight_bearing: {
    weight: () => 3,
    draw: (_design, random) => ({
      runUpFactor: random.between(4, 10),
      speedFactor: random.between(0.93, 0.97),
    }),
  },
  shorted_winding: {
    weight: () => 3,
    draw: ({ fan }, random) => {
      const speedFactor = random.between(0.45, 0.7);
      // The whole input at open inlet is so many times a good motor's; the fan's part falls as speed cubed.
      const times = random.between(1.6, 2.2);
      return { speedFactor, shortedLoss_W: fan.freePower_W * (times - speedFactor ** 3) };
    },
  },
};

/** Draws one defect for a unit of this design and parts. */
export function drawDefect(
  design: BodyDesign,
  parts: Readonly<Record<string, string>>,
  random: RandomStream,
): { readonly name: DefectName; readonly effect: DefectEffect } {
  const weighed: [DefectName, number][] = [];
  let total = 0;
  for (const name of names()) {
    const weight = DEFECTS[name].weight(design, parts);
    total += weight;
    weighed.push([name, weight]);
  }
  let left = random.uniform() * total;
  for (const [name, weight] of weighed) {
    if (left < weight) return { name, effect: DEFECTS[name].draw(design, random) };
    left -= weight;
  }
  return { name: "pinched_gasket", effect: DEFECTS.pinched_gasket.draw(design, random) };
}

function names(): DefectName[] {
  const list: DefectName[] = [];
  for (const name in DEFECTS) if (isDefectName(name)) list.push(name);
  return list;
}

function isDefectName(name: string): name is DefectName {
  return name in DEFECTS;
}

/** A leak between so many and so many times what the design allows, m3/s, each ratio equally likely per decade. */
function leak_m3_s(design: BodyDesign, random: RandomStream, least: number, most: number): number {
  const times = least * (most / least) ** random.uniform();
  return (times * design.designLeak_mLmin * 1e-6) / 60;
}

function orificeOf(design: BodyDesign, random: RandomStream, least: number, most: number): LeakPath {
  return orificeLeaking(leak_m3_s(design, random, least, most), design.leakPressure_Pa);
}
