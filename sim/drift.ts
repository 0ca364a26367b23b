import type { ModelLimits } from "../limits/model.ts";
import type { BodyDesign } from "./bodies.ts";
import type { DefectEffect } from "./defects.ts";
import { capillariesLeaking } from "./plant/leak-path.ts";

/** One tracked part by the limit file's name for it. */
interface Part {
  readonly name: string;
  readonly value: string;
}

/** A change of the process that sets in at one unit of the line and stays. */
export interface PlantedDrift {
  readonly of: "leak rate" | "suction";
  /** In standard deviations of sound units. */
  readonly shift_sd: number;
  /** The first unit it may touch, counted along the line from 1. */
  readonly fromUnit: number;
  /** Units with this part; all when not given. */
  readonly within?: Part;
  /** A part that comes with it: every unit that drifts has it. */
  readonly newPart?: Part;
}

const EXAMPLE = "leak rate +2 sd from unit 200 of tub_cavity=P2 with gasket_lot=G2420";
const WRITTEN =
  /^(leak rate|suction) ([+-]\d{1,4}(?:\.\d{1,3})?) sd from unit ([1-9]\d{0,8})(?: of (\w+)=(\S+))?(?: with (\w+)=(\S+))?$/;
/** Far more than early warning is for. */
const MOST_SD = 20;

const WALL_m = 0.003;

/** The drift can't be planted; the message says why and what to do. */
class DriftError extends Error {
  constructor(message: string) {
    super(message);
    this.name = "DriftError";
  }
}

/**
 * A drift as somebody types it.
 * @throws DriftError where it is written otherwise, or is none that units can have
 * @example readDrift("suction -1.5 sd from unit 120") // { of: "suction", shift_sd: -1.5, fromUnit: 120 }
 */
export function readDrift(text: string): PlantedDrift {
  const [, of, shift, from, name, value, newName, newValue] = WRITTEN.exec(text.trim()) ?? [];
  if (of !== "leak rate" && of !== "suction") {
    throw new DriftError(
      `"${text}" is not how a drift is written: give leak rate or suction, how far, from which unit, and where wanted of which part and with which new part, like "${EXAMPLE}".`,
    );
  }
  const shift_sd = Number(shift);
  if (shift_sd === 0 || Math.abs(shift_sd) > MOST_SD) {
    throw new DriftError(
      `A drift is of up to ${MOST_SD} standard deviations (sd), and not of 0: write it like "${EXAMPLE}".`,
    );
  }
  // Most are nearer to nothing than one standard deviation.
  if (of === "leak rate" && shift_sd < 0)
    throw new DriftError(`A simulated leak rate can only rise: write it with +, like "${EXAMPLE}".`);
  return {
    ...{ of, shift_sd, fromUnit: Number(from) },
    ...(name !== undefined && value !== undefined ? { within: { name, value } } : {}),
    ...(newName !== undefined && newValue !== undefined
      ? { newPart: { name: newName, value: newValue } }
      : {}),
  };
}

/** @throws DriftError when no unit of these models can have it */
export function requireDriftOf(
  models: readonly { readonly design: BodyDesign; readonly limits: ModelLimits }[],
  { within, newPart }: PlantedDrift,
): void {
  const drifting = models.filter(({ design }) => within === undefined || hasPart(design, within));
  if (within && drifting.length === 0) {
    const there = models.flatMap(({ design }) =>
      Object.entries(design.parts).flatMap(([name, values]) => values.map((value) => `${name}=${value}`)),
    );
    throw new DriftError(
      `No unit on this line has ${within.name}=${within.value}: let one drift of ${there.join(", ")}.`,
    );
  }
  if (newPart === undefined) return;
  for (const { limits } of drifting) {
    if (limits.parts.some(({ name, pattern }) => name === newPart.name && pattern.test(newPart.value)))
      continue;
    const there = limits.parts.map(({ name, pattern }) => `${name} (${pattern.source})`).join(", ");
    throw new DriftError(
      `${limits.model} can't have ${newPart.name}=${newPart.value}: give one of ${there}.`,
    );
  }
}

function hasPart({ parts }: BodyDesign, { name, value }: Part): boolean {
  return parts[name]?.includes(value) ?? false;
}

/** Whether it is in this unit: @param index along the line, from 0 */
export function isDrifting(
  { fromUnit, within }: PlantedDrift,
  index: number,
  parts: Readonly<Record<string, string>>,
): boolean {
  return index + 1 >= fromUnit && (within === undefined || parts[within.name] === within.value);
}

/** Standard deviations of sound units of a model. */
export interface SoundSpread {
  readonly leak_m3_s: number;
  /** Of the motor's speed, as a part of it; suction goes as its square. */
  readonly speed: number;
}

/** @returns what the drift does to one unit: a leak more, or another speed of the motor */
export function driftEffect(drift: PlantedDrift, design: BodyDesign, spread: SoundSpread): DefectEffect {
  if (drift.of === "suction") return { speedFactor: 1 + drift.shift_sd * spread.speed };
  const more_m3_s = drift.shift_sd * spread.leak_m3_s;
  return { leakPaths: [capillariesLeaking(more_m3_s, design.leakPressure_Pa, WALL_m)] };
}
