import type { FanDesign } from "./plant/fan.ts";
import type { RandomStream } from "./random.ts";

/** Physical truth of a model of the demo plant, as its makers would know it: nothing here comes from its limits. */
export interface BodyDesign {
  readonly model: string;
  readonly volume_m3: number;
  readonly thermalTau_s: number;
  readonly elasticCompliance_m3_Pa: number;
  readonly creepCompliance_m3_Pa: number;
  readonly creepTau_s: number;
  /** Effective area of the fill restrictor in the model's adapter plate. */
  readonly restrictorArea_m2: number;
  /** Gauge pressure the leaks below are stated at. */
  readonly leakPressure_Pa: number;
  /** What a good body leaks (median), and what it may at most by design; mL/min at the house reference. */
  readonly usualLeak_mLmin: number;
  readonly designLeak_mLmin: number;
  /** Size of the gap a missing gasket leaves. */
  readonly gasketGap_m2: number;
  readonly fan: FanDesign;
  readonly inletResistance: number;
  readonly filterResistance: number;
  /** The orifice that comes with the model's reference cleaner, and the suction it is certified at: about what that fan makes. */
  readonly referenceOrifice: { readonly bore_m: number; readonly atSuction_Pa: number };
  /** The motor of the neighbouring line, which fits and should not be there. */
  readonly wrongMotor: { readonly speedFactor: number; readonly powerFactor: number };
  /** The tub cavity whose moulding is porous now and then, and the one whose worn gate starts cracks. */
  readonly porousCavity: string;
  readonly crackingCavity: string;
  /** How often a tub of that cavity is cracked, against the weights of the other defects. */
  readonly crackingWeight: number;
  /** Tracked parts by the limit files' names, each with what there is of it, in equal shares. */
  readonly parts: Readonly<Record<string, readonly string[]>>;
  /** What the numbers of its motors begin with. */
  readonly motorLetter: string;
}

// 12 L wet-and-dry body, evacuated by 8 kPa; about 1150 W, 22 kPa sealed, 55 L/s through the open orifice.
const tub12: BodyDesign = {
  model: "TUB-12",
  volume_m3: 0.012,
  thermalTau_s: 4,
  // 8 kPa draw the walls in by 0.04 % of the volume at once and 0.006 % over a quarter of a minute.
  elasticCompliance_m3_Pa: (0.0004 * 0.012) / 8000,
  creepCompliance_m3_Pa: (0.00006 * 0.012) / 8000,
  creepTau_s: 15,
  restrictorArea_m2: 2.2e-6,
  leakPressure_Pa: -8000,
  usualLeak_mLmin: 9,
  designLeak_mLmin: 60,
  gasketGap_m2: 45e-6,
  fan: {
    sealed_Pa: 22_000,
    free_m3_s: 0.068,
    straightness: 1,
    sealedPower_W: 760,
    freePower_W: 1205,
  },
  inletResistance: 2.0e5,
  filterResistance: 8.0e5,
  referenceOrifice: { bore_m: 0.024, atSuction_Pa: 10_000 },
  wrongMotor: { speedFactor: 0.82, powerFactor: 0.95 },
  porousCavity: "T3",
  crackingCavity: "T2",
  crackingWeight: 28,
  parts: {
    tub_cavity: ["T1", "T2", "T3", "T4"],
    lid_cavity: ["L1", "L2", "L3", "L4"],
    gasket_lot: ["G2401", "G2402", "G2403"],
  },
  motorLetter: "M",
};

// 4 L compact body, pressurised to 5 kPa; about 600 W, 14 kPa sealed. A motor of about 620 W is said to move about
// 500 US gallons of air a minute (31.5 L/s) at open inlet (common practice, no source).
const pod4: BodyDesign = {
  model: "POD-4",
  volume_m3: 0.004,
  thermalTau_s: 3,
  elasticCompliance_m3_Pa: (0.0003 * 0.004) / 5000,
  creepCompliance_m3_Pa: (0.00004 * 0.004) / 5000,
  creepTau_s: 12,
  restrictorArea_m2: 0.85e-6,
  leakPressure_Pa: 5000,
  usualLeak_mLmin: 4,
  designLeak_mLmin: 25,
  gasketGap_m2: 30e-6,
  fan: {
    sealed_Pa: 14_000,
    free_m3_s: 0.035,
    straightness: 0.4,
    sealedPower_W: 430,
    freePower_W: 620,
  },
  inletResistance: 3.0e5,
  filterResistance: 2.2e6,
  referenceOrifice: { bore_m: 0.02, atSuction_Pa: 7000 },
  wrongMotor: { speedFactor: 1.12, powerFactor: 1.05 },
  porousCavity: "P2",
  crackingCavity: "P1",
  crackingWeight: 16,
  parts: {
    tub_cavity: ["P1", "P2"],
    lid_cavity: ["Q1", "Q2"],
    gasket_lot: ["G2411", "G2412", "G2413"],
  },
  motorLetter: "N",
};

const DESIGNS: readonly BodyDesign[] = [tub12, pod4];

/** @throws Error naming the models that are simulated, for any other */
export function bodyDesign(model: string): BodyDesign {
  const design = DESIGNS.find((candidate) => candidate.model === model);
  if (!design) {
    const known = DESIGNS.map((candidate) => candidate.model).join(", ");
    throw new Error(`No body of model ${model} is simulated; the demo plant makes ${known}.`);
  }
  return design;
}

/** Whether the demo plant makes this model. */
export function isSimulatedModel(model: string): boolean {
  return DESIGNS.some((design) => design.model === model);
}

/** @returns tracked parts of one unit, a motor with a number of its own among them */
export function drawParts(
  { parts, motorLetter }: BodyDesign,
  random: RandomStream,
): Readonly<Record<string, string>> {
  const drawn: Record<string, string> = {};
  for (const [name, values] of Object.entries(parts)) drawn[name] = random.pick(values);
  const number = Math.floor(random.uniform() * 1_000_000);
  return { ...drawn, motor_serial: `${motorLetter}${String(number).padStart(6, "0")}` };
}
