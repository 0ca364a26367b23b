import type { LeakMethod } from "../../limits/model.ts";
import { bodyDesign } from "../../sim/bodies.ts";
import { randomStream } from "../../sim/random.ts";
import {
  byEarlyVerdict,
  byFixedTimer,
  type Curve,
  type LeakStation,
  type Outcome,
  type Timing,
} from "./leak-step-methods.ts";
import { LEAK_LINES, type LeakLine, type LeakModel } from "./leak-step-plants.ts";
import { curveOf, stationAt } from "./leak-step-station.ts";
import { type Demand, shortestFixedTimer, total_s, WATCHED_s } from "./leak-step-timing.ts";

export const METHODS = ["fixed timer", "fixed timer less mean curve", "early verdict"] as const;
export type MethodName = (typeof METHODS)[number];

/** Units of one leak tested by one method. */
export interface Tally {
  readonly method: MethodName;
  /** True leak over the limit; null for the line's own conforming units. */
  readonly ratio: number | null;
  accepted: number;
  rejected: number;
  void: number;
  readonly times_s: number[];
}

export interface LineResult {
  readonly line: string;
  readonly model: LeakModel;
  readonly timings: Readonly<Record<MethodName, Timing>>;
  /** Whole time of the fixed timer less mean curve that also rejects hardly a unit at 0.8 of the limit. */
  readonly asSureNearer_s: number;
  readonly tallies: readonly Tally[];
}

/** True leaks over the limit, and how many units of each are tested on each line and model. */
export const UNITS_AT: readonly (readonly [ratio: number, units: number])[] = [
  [0.1, 50],
  [0.3, 50],
  [0.6, 345],
  [0.8, 50],
  [0.9, 50],
  [1.1, 50],
  [1.25, 345],
  [1.5, 50],
  [3, 50],
  [10, 50],
];
const UNITS_AS_MADE = 120;
const TRAINING_UNITS = 200;
/** What the early verdict gives besides, and a fixed timer would need longer for: few false rejects near the limit too. */
export const NEARER = { ratio: 0.8, most: 0.01 } as const;

/** The lines with both models, each an independent piece of work. */
export const JOBS: readonly { readonly line: LeakLine; readonly model: LeakModel }[] = LEAK_LINES.flatMap(
  (line) => (["TUB-12", "POD-4"] as const).map((model) => ({ line, model })),
);

/** What good bodies leak: log-normal, as sim/population.ts makes them. */
const USUAL_SIGMA = 0.45;
const USUAL_MOST = 0.55;

/** Learns, chooses the timings on training units, and tests others by all three methods, each unit's one curve for all. */
export function runLine(line: LeakLine, model: LeakModel): LineResult {
  const station = stationAt(line, model);
  const demands = trainingDemands(line, model, station);
  const plain = shortest(station, demands, false);
  const lessMean = shortest(station, demands, true);
  const nearer: Demand = {
    curves: trainingUnits(line, model, station, NEARER.ratio),
    wrong: "rejected",
    most: NEARER.most,
  };
  const early = { settle_s: station.step.settle_s, measure_s: station.step.measureLongest_s };
  const watch_s = Math.max(...[plain.timing, lessMean.timing, early].map(total_s));
  const methods: Readonly<Record<MethodName, (curve: Curve) => Outcome>> = {
    "fixed timer": (curve) => byFixedTimer(station, plain.method, plain.timing, curve),
    "fixed timer less mean curve": (curve) => byFixedTimer(station, lessMean.method, lessMean.timing, curve),
    "early verdict": (curve) => byEarlyVerdict(station, curve),
  };
  const tallies: Tally[] = [];
  const test = (ratio: number | null, units: number, leakOf: (unit: number) => number) => {
    const made = METHODS.map(
      (method): Tally => ({ method, ratio, accepted: 0, rejected: 0, void: 0, times_s: [] }),
    );
    for (let unit = 0; unit < units; unit++) {
      const body = `${ratio ?? "as made"} ${unit}`;
      const curve = curveOf({ line, model, leak_m3_s: leakOf(unit), watch_s, body });
      for (const tally of made) count(tally, methods[tally.method](curve));
    }
    tallies.push(...made);
  };
  for (const [ratio, units] of UNITS_AT) test(ratio, units, () => ratio * station.limit_m3_s);
  const random = randomStream(1, `${line.name} ${model} as made`);
  test(null, UNITS_AS_MADE, () => usualLeak_m3_s(model, station, () => random.normal()));
  return {
    line: line.name,
    model,
    timings: {
      "fixed timer": plain.timing,
      "fixed timer less mean curve": lessMean.timing,
      "early verdict": early,
    },
    asSureNearer_s: total_s(shortest(station, [...demands, nearer], true).timing),
    tallies,
  };
}

function count(tally: Tally, { verdict, time_s }: Outcome): void {
  if (verdict === "accept") tally.accepted++;
  else if (verdict === "reject") tally.rejected++;
  else tally.void++;
  tally.times_s.push(time_s);
}

function usualLeak_m3_s(model: LeakModel, { limit_m3_s }: LeakStation, normal: () => number): number {
  const usual_m3_s = (bodyDesign(model).usualLeak_mLmin * 1e-6) / 60;
  return Math.min(usual_m3_s * Math.exp(USUAL_SIGMA * normal()), USUAL_MOST * limit_m3_s);
}

/** The better of slope and difference: the fixed timer at its best. */
function shortest(
  station: LeakStation,
  demands: readonly Demand[],
  subtractsMeanCurve: boolean,
): { readonly method: LeakMethod; readonly timing: Timing } {
  const [first, ...others] = (["slope", "difference"] as const).map((kind) => {
    const method: LeakMethod = { kind, subtractsMeanCurve };
    return { method, timing: shortestFixedTimer(station, method, demands) };
  });
  if (!first) throw new RangeError("There is no method.");
  return others.reduce((best, other) => (total_s(other.timing) < total_s(best.timing) ? other : best), first);
}

/** Other units than those tested: false rejects at 0.6 of the limit and false accepts at 1.25 of it under 0.1 %. */
function trainingDemands(line: LeakLine, model: LeakModel, station: LeakStation): readonly Demand[] {
  return [
    { curves: trainingUnits(line, model, station, 0.6), wrong: "rejected", most: 1e-3 },
    { curves: trainingUnits(line, model, station, 1.25), wrong: "accepted", most: 1e-3 },
  ];
}

function trainingUnits(
  line: LeakLine,
  model: LeakModel,
  { limit_m3_s }: LeakStation,
  ratio: number,
): readonly Curve[] {
  return Array.from({ length: TRAINING_UNITS }, (_, unit) => {
    const body = `training ${ratio} ${unit}`;
    return curveOf({ line, model, leak_m3_s: ratio * limit_m3_s, watch_s: WATCHED_s, body });
  });
}
