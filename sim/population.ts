import type { ModelLimits } from "../limits/model.ts";
import { type BodyDesign, bodyDesign, drawParts } from "./bodies.ts";
import { type DefectEffect, type DefectName, drawDefect } from "./defects.ts";
import { driftEffect, isDrifting, type PlantedDrift, requireDriftOf, type SoundSpread } from "./drift.ts";
import type { Cleaner } from "./plant/airflow.ts";
import type { HousingBody } from "./plant/housing.ts";
import { capillariesLeaking, type LeakPath, leakRate_m3_s, orificeLeaking } from "./plant/leak-path.ts";
import { type RandomStream, randomStream } from "./random.ts";

/** A unit off the demo line: what its label says, and what it is. */
export interface SimulatedUnit {
  readonly serial: string;
  readonly model: string;
  /** Tracked parts by the names the limit files use. */
  readonly parts: Readonly<Record<string, string>>;
  /** Empty for a unit without a named defect, which may yet be outside its limits by a hair. */
  readonly defects: readonly DefectName[];
  /** A planted drift is in it. */
  readonly hasDrift?: true;
  readonly body: HousingBody;
  readonly cleaner: Cleaner;
}

export interface PopulationOptions {
  readonly seed: number;
  /** Models on the line, in equal shares; each must be one the demo plant makes. */
  readonly models: readonly ModelLimits[];
  /** Part of the units with a named defect, 0 to 1. */
  readonly defectRate?: number;
  readonly drift?: PlantedDrift;
}

export const DEFAULT_SEED = 7;
/** Far more than a line would stand; a dozen units should show good ones and several kinds of defect. */
const DEFAULT_DEFECT_RATE = 0.28;

/** Part of the sound units that come out close to the leak limit, either side. */
const MARGINAL_PART = 0.05;
/** Part of the defective units that have a second defect. */
const SECOND_DEFECT_PART = 0.06;
/** Standard deviation of the motors' speed, as a part of it. */
const SPEED_SD = 0.006;
/** Sound units whose standard deviation a drift is counted in. */
const SPREAD_OF = 1000;

const LAST_DIGITS = /\d+(?=\D*$)/;

/** The units of one seed, in the order the line makes them. Unit k is the same however many are asked for. */
export class Population {
  readonly #seed: number;
  readonly #models: readonly ModelLimits[];
  readonly #defectRate: number;
  readonly #drift: PlantedDrift | undefined;
  readonly #spreads = new Map<string, SoundSpread>();

  /** @throws RangeError for a defect rate outside 0 to 1 or no model; DriftError for a drift these can't have; Error for a model that is not simulated */
  constructor({ seed, models, defectRate = DEFAULT_DEFECT_RATE, drift }: PopulationOptions) {
    if (!(defectRate >= 0 && defectRate <= 1))
      throw new RangeError("The defect rate must be between 0 and 1.");
    if (models.length === 0) throw new RangeError("A population needs at least one model.");
    const designs = models.map((limits) => ({ limits, design: bodyDesign(limits.model) }));
    if (drift) requireDriftOf(designs, drift);
    this.#drift = drift;
    this.#seed = seed;
    // By name, not by the order of files: the population is the same wherever the limits were read from.
    this.#models = [...models].sort((a, b) => (a.model < b.model ? -1 : 1));
    this.#defectRate = defectRate;
  }

  /** @param index from 0 */
  unitAt(index: number): SimulatedUnit {
    const random = randomStream(this.#seed, `unit ${index}`);
    const limits = random.pick(this.#models);
    const design = bodyDesign(limits.model);
    const serial = serialLike(limits.serialExample, firstNumber(this.#seed) + index);
    if (!limits.serialPattern.test(serial)) {
      throw new Error(`The serial ${serial} made up for ${limits.model} does not match its pattern.`);
    }
    const parts = drawParts(design, random);
    const isDefective = random.chance(this.#defectRate);
    // Sound properties are drawn for every unit alike, so that the defect rate does not change the sound ones.
    // From a stream of its own, so that defects stay what they were.
    const runUpFactor = 1 + randomStream(this.#seed, `run-up of unit ${index}`).boundedNormal(0.05, 3);
    const sound = drawSound(design, random, runUpFactor);
    const effects: DefectEffect[] = [];
    const defects: DefectName[] = [];
    if (isDefective) {
      const wanted = random.chance(SECOND_DEFECT_PART) ? 2 : 1;
      while (defects.length < wanted) {
        const { name, effect } = drawDefect(design, parts, random);
        if (defects.includes(name)) continue;
        defects.push(name);
        effects.push(effect);
      }
    }
    const drift = this.#drift;
    if (drift === undefined || !isDrifting(drift, index, parts))
      return { serial, model: limits.model, parts, defects, ...assemble(design, sound, effects) };
    const { newPart } = drift;
    return {
      ...{ serial, model: limits.model, defects, hasDrift: true },
      // Defects were drawn by the parts it would have had: a drift changes nothing but what it says.
      parts: newPart ? { ...parts, [newPart.name]: newPart.value } : parts,
      ...assemble(design, sound, [...effects, driftEffect(drift, design, this.#spreadOf(design))]),
    };
  }

  #spreadOf(design: BodyDesign): SoundSpread {
    const spread = this.#spreads.get(design.model) ?? soundSpread(design);
    this.#spreads.set(design.model, spread);
    return spread;
  }

  /** @returns the index of the unit with this serial; null when there is none within so many */
  indexOf(serial: string, within: number): number | null {
    const digits = LAST_DIGITS.exec(serial)?.[0];
    if (digits === undefined) return null;
    // Serials begin anew when their digits are used up.
    const all = 10 ** digits.length;
    const index = (((Number(digits) - firstNumber(this.#seed)) % all) + all) % all;
    return index < within && this.unitAt(index).serial === serial ? index : null;
  }

  /** The first `count` units. */
  *units(count: number): Generator<SimulatedUnit> {
    for (let index = 0; index < count; index++) yield this.unitAt(index);
  }
}

/** What makes a sound unit itself. */
export interface SoundUnit {
  readonly leakPaths: readonly LeakPath[];
  readonly volumeFactor: number;
  readonly wallOffset_K: number;
  readonly speedFactor: number;
  readonly powerFactor: number;
  readonly runUpFactor: number;
  readonly filterFactor: number;
}

/** Body and cleaner of a design with these properties and what defects make of them. */
export function assemble(
  design: BodyDesign,
  sound: SoundUnit,
  effects: readonly DefectEffect[] = [],
): { readonly body: HousingBody; readonly cleaner: Cleaner } {
  const leakPaths = [...sound.leakPaths, ...effects.flatMap((effect) => effect.leakPaths ?? [])];
  const product = (factor: keyof Omit<DefectEffect, "leakPaths" | "shortedLoss_W">) =>
    effects.reduce((so_far, effect) => so_far * (effect[factor] ?? 1), 1);
  return {
    body: {
      volume_m3: design.volume_m3 * sound.volumeFactor,
      elasticCompliance_m3_Pa: design.elasticCompliance_m3_Pa,
      creepCompliance_m3_Pa: design.creepCompliance_m3_Pa,
      creepTau_s: design.creepTau_s,
      thermalTau_s: design.thermalTau_s,
      wallOffset_K: sound.wallOffset_K,
      leakPaths,
    },
    cleaner: {
      fan: design.fan,
      speedFactor: sound.speedFactor * product("speedFactor"),
      powerFactor: sound.powerFactor * product("powerFactor"),
      runUpFactor: sound.runUpFactor * product("runUpFactor"),
      shortedLoss_W: effects.reduce((so_far, { shortedLoss_W = 0 }) => so_far + shortedLoss_W, 0),
      inletResistance: design.inletResistance * product("inletFactor"),
      filterResistance: design.filterResistance * sound.filterFactor * product("filterFactor"),
      leakPaths,
    },
  };
}

/** The same for every seed. */
function soundSpread(design: BodyDesign): SoundSpread {
  const random = randomStream(0, `spread of ${design.model}`);
  const leaks_m3_s = Array.from({ length: SPREAD_OF }, () =>
    leakRate_m3_s(drawSound(design, random, 1).leakPaths, design.leakPressure_Pa),
  );
  const mean = leaks_m3_s.reduce((sum, it) => sum + it, 0) / SPREAD_OF;
  const variance = leaks_m3_s.reduce((sum, it) => sum + (it - mean) ** 2, 0) / (SPREAD_OF - 1);
  return { leak_m3_s: Math.sqrt(variance), speed: SPEED_SD };
}

function drawSound(design: BodyDesign, random: RandomStream, runUpFactor: number): SoundUnit {
  const isMarginal = random.chance(MARGINAL_PART);
  const usual_mLmin = Math.min(
    random.logNormal(design.usualLeak_mLmin, 0.45),
    0.55 * design.designLeak_mLmin,
  );
  const marginal_mLmin = design.designLeak_mLmin * random.between(0.75, 1.25);
  const leak_m3_s = ((isMarginal ? marginal_mLmin : usual_mLmin) * 1e-6) / 60;
  // Part of it through the material, part past the gasket.
  const porous = random.between(0.3, 0.9);
  return {
    leakPaths: [
      capillariesLeaking(leak_m3_s * porous, design.leakPressure_Pa, 0.003),
      orificeLeaking(leak_m3_s * (1 - porous), design.leakPressure_Pa),
    ],
    volumeFactor: 1 + random.boundedNormal(0.002, 3),
    wallOffset_K: random.boundedNormal(0.05, 3),
    speedFactor: 1 + random.boundedNormal(SPEED_SD, 3),
    powerFactor: 1 + random.boundedNormal(0.01, 3),
    runUpFactor,
    filterFactor: 1 + random.boundedNormal(0.04, 3),
  };
}

/** Where a seed's serial numbers begin: apart from most other seeds', with room for six digits. */
function firstNumber(seed: number): number {
  return 100_000 + Math.floor(randomStream(seed, "serials").uniform() * 800_000);
}

/** The example with its last run of digits replaced by this number, as wide as it was. */
function serialLike(example: string, number: number): string {
  return example.replace(LAST_DIGITS, (digits) =>
    String(number % 10 ** digits.length).padStart(digits.length, "0"),
  );
}
