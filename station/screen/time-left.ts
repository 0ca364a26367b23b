import type { ModelLimits, Step } from "../../limits/model.ts";
import type { UnitProgress } from "../cycle/unit-progress.ts";
import type { Traveller } from "../records/traveller.ts";

/** How long phases usually take, s, by `phaseKey`. */
export type TypicalPhases = ReadonlyMap<string, number>;

/** A phase as it was run: one of a traveller's `phases`. */
export type TimedPhase = Pick<Traveller["phases"][number], "step" | "phase" | "point" | "seconds">;

/** Of newer units more is not learned, and a slow old one is forgotten. */
const RECENT_UNITS = 20;
/** The source at rest before the fill, as in the demo's runs; no source. The time-out is a fault's and far longer. */
const REST_s = 0.5;
/** Making safe and recording, after the steps. */
const AFTERWARDS_s = 0.5;

/**
 * The middle one of each phase's lengths in recent units of one model: one unit that took long moves nothing.
 * @param units newest first; of aborted tests only what ran to its end
 */
export function typicalPhases(units: readonly (readonly TimedPhase[])[]): TypicalPhases {
  const lengths = new Map<string, number[]>();
  for (const phases of units.slice(0, RECENT_UNITS)) {
    for (const { step, phase, point, seconds } of phases) {
      const key = phaseKey(step, phase, point);
      const known = lengths.get(key);
      if (known) known.push(seconds);
      else lengths.set(key, [seconds]);
    }
  }
  return new Map([...lengths].map(([key, values]) => [key, middleOf(values)]));
}

/**
 * @param steps that are run; all of the limit file's for a unit
 * @returns seconds until the test ends as expected, never negative; during one test it only ever falls. Null where no
 *   unit is being tested, where a unit goes a way of its own, as after a gross leak, and while the fixture is made safe
 */
export function timeLeft_s(
  { steps }: Pick<ModelLimits, "steps">,
  progress: UnitProgress | null,
  typical: TypicalPhases,
): number | null {
  if (!progress) return null;
  const { phase, step, point, elapsed_s } = progress;
  // As long as it takes: instruments that must be asked again and again may be in the way.
  if (phase === "safing" || phase === "recording") return null;
  const all = steps.flatMap(expectedPhases);
  const lengthOf = (it: Expected) => typical.get(it.key) ?? it.longest_s;
  const sum = (some: readonly Expected[]) => some.reduce((total, it) => total + lengthOf(it), AFTERWARDS_s);
  if (!step) return sum(all);
  const key = phaseKey(step.name, phase, phase === "run_up" ? undefined : point?.name);
  const now = all.findIndex((it) => it.key === key);
  const current = all[now];
  if (!current) return null;
  return Math.max(0, lengthOf(current) - (elapsed_s ?? 0)) + sum(all.slice(now + 1));
}

/** @returns whether all phases of these steps are known from units; the rest at the source counts for nothing */
export function isLearned({ steps }: Pick<ModelLimits, "steps">, typical: TypicalPhases): boolean {
  return steps.flatMap(expectedPhases).every(({ key, longest_s }) => typical.has(key) || longest_s <= REST_s);
}

interface Expected {
  readonly key: string;
  /** By the limit file, for a model of which nothing is known yet. */
  readonly longest_s: number;
}

function expectedPhases(step: Step): readonly Expected[] {
  const expected = (phase: string, longest_s: number, point?: string): Expected => ({
    key: phaseKey(step.name, phase, point),
    longest_s,
  });
  if (step.kind === "leak") {
    return [
      expected("rest", REST_s),
      expected("fill", step.fillLongest_s),
      expected("settle", step.settle_s),
      expected("measure", step.measureLongest_s),
      expected("vent", step.ventLongest_s),
    ];
  }
  return [
    expected("run_up", step.runUpLongest_s),
    ...step.points.map(({ name, holdLongest_s }) => expected("hold", holdLongest_s, name)),
    expected("coast", step.coastLongest_s),
  ];
}

/** Run-up is one phase, whichever point it ends in. */
function phaseKey(step: string, phase: string, point: string | undefined): string {
  return phase === "hold" && point !== undefined ? `${step} ${phase} ${point}` : `${step} ${phase}`;
}

function middleOf(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  const upper = sorted[half] ?? 0;
  return sorted.length % 2 === 1 ? upper : ((sorted[half - 1] ?? upper) + upper) / 2;
}
