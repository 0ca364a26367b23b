import type { Characteristic, LeakStep, ModelLimits } from "../limits/model.ts";
import { convert, toUnit } from "../limits/quantity.ts";
import { CalibrationsAsMade } from "./calibrations-as-made.ts";
import type { ModelCalibration } from "./cycle/attempt.ts";
import type { StationKnowledge } from "./cycle/characteristic-result.ts";
import type { PopulationPart } from "./quality/test-setting/global-risk.ts";
import type { RateFound, TimingCurve } from "./quality/test-setting/setting-error.ts";
import type { Timing } from "./quality/test-setting/setting-risks.ts";
import { DecidedUnits, knownDecisions } from "./records/known-decisions.ts";
import { type TravellerQuery, travellersOf } from "./records/model-travellers.ts";
import { RecordError } from "./records/record-error.ts";
import type { Traveller } from "./records/traveller.ts";
import { leakRateAgain } from "./replay-curves.ts";
import { storedLeakCurve } from "./stored-leak-curve.ts";

export interface TimingOrder {
  readonly limits: ModelLimits;
  readonly step: LeakStep;
  readonly rate: Characteristic;
  readonly recordsFolder: string;
  readonly stationPath: string;
  readonly knowledge: StationKnowledge;
  /** What has been learned of the model by now. */
  readonly today: ModelCalibration;
  readonly query: TravellerQuery;
}

/** Leak curves of a records folder, not measured again yet. */
export interface TimingRecords {
  /** Of units and reference pieces, measured to the end. */
  readonly curves: readonly RecordedCurve[];
  /** Curves that an early verdict ended. */
  readonly endedEarly: number;
  /** Of each unit's first test, what was recorded. */
  readonly units: readonly RecordedUnit[];
  readonly grossLeaks: number;
  /** First tests of units that have no leak rate. */
  readonly withoutRate: number;
  /** Attempts that a hold takes the trust from, and reference pieces that were not as certified. */
  readonly inDoubt: number;
  readonly broken: readonly { readonly path: string; readonly problem: string }[];
  readonly attempts: number;
  readonly simulated: number;
  /** Tests of units for a planned study: its pieces are chosen, and say nothing of what units leak. */
  readonly studied: number;
}

export interface RecordedCurve {
  readonly traveller: Traveller;
  readonly calibration: ModelCalibration;
  /** From its first reading to its last. */
  readonly reach_s: number;
}

interface RecordedUnit {
  readonly id: string;
  readonly part: PopulationPart;
}

/** More would take minutes and tell the same; they are then drawn evenly over the time of the records. */
const MOST_CURVES = 80;

/**
 * What a records folder has for a timing study. No lock is taken, nothing is written.
 * @throws RecordError when the folder can't be read
 */
export async function readTimingRecords(order: TimingOrder): Promise<TimingRecords> {
  const { step, rate } = order;
  const asMade = new CalibrationsAsMade(order.stationPath, order.today);
  let curves: RecordedCurve[] = [];
  let [stride, seen] = [1, 0];
  const units: RecordedUnit[] = [];
  const broken: { path: string; problem: string }[] = [];
  let [endedEarly, grossLeaks, withoutRate, inDoubt, attempts, simulated, studied] = [0, 0, 0, 0, 0, 0, 0];
  const decisions = await knownDecisions(order.recordsFolder);
  const decided = new DecidedUnits(decisions);
  const { untrusted } = decisions.held;
  const counted = new Set<string>();
  for await (const found of travellersOf(order.recordsFolder, order.query)) {
    if (found.kind === "broken") {
      broken.push({ path: found.path, problem: found.problem });
      continue;
    }
    const { traveller, sha256 } = found;
    const isUnit = traveller.kind === "unit";
    const recorded = traveller.characteristics.find(
      (one) => one.measurand === "leak_rate" && one.step === step.name,
    );
    attempts++;
    decided.meet(traveller.serial);
    if (traveller.station.simulated) simulated++;
    if (untrusted.has(sha256) || (!isUnit && traveller.verdict !== "pass")) {
      inDoubt++;
      continue;
    }
    const isStudied = isUnit && traveller.study !== undefined;
    if (isStudied) studied++;
    // Once each: a repeat after void ones is called first, too, and a draft's test may be of a unit of production.
    if (isUnit && !isStudied && traveller.attempt.kind === "first" && !counted.has(traveller.serial)) {
      const isGross = recorded?.verdict === "fail" && recorded.uncertainty === null;
      if (!isGross && (recorded?.value == null || recorded.uncertainty === null)) withoutRate++;
      else {
        counted.add(traveller.serial);
        if (isGross || recorded?.value == null || recorded.uncertainty === null) grossLeaks++;
        else {
          const inUnit = (value: number) => convert(value, recorded.unit, rate.unit, "leakRate");
          const [mean, sd] = [inUnit(recorded.value), inUnit(recorded.uncertainty)];
          units.push({ id: traveller.id, part: { mean, sd, weight: 1 } });
        }
      }
    }
    if (recorded?.how?.looks?.early) {
      endedEarly++;
      continue;
    }
    let stored: ReturnType<typeof storedLeakCurve>;
    try {
      stored = storedLeakCurve(traveller, step);
    } catch (error) {
      if (!(error instanceof RecordError)) throw error;
      broken.push({ path: found.path, problem: error.message.replace(/\.$/, "") });
      continue;
    }
    if (stored === null || stored === "gross leak" || stored.samples.length < 2) continue;
    if (seen++ % stride !== 0) continue;
    const reach_s = ((stored.samples.at(-1)?.t_us ?? 0) - (stored.samples[0]?.t_us ?? 0)) / 1e6;
    const { calibration } = asMade.for(traveller, [step, { ...step, method: { kind: "fitted" } }]);
    curves.push({ traveller: leakPartOf(traveller, step), calibration, reach_s });
    if (curves.length <= MOST_CURVES) continue;
    curves = curves.filter((_, i) => i % 2 === 0);
    stride *= 2;
  }
  await decided.requireFiles();
  return {
    curves,
    endedEarly,
    units,
    grossLeaks,
    withoutRate,
    inDoubt,
    broken,
    attempts,
    simulated,
    studied,
  };
}

/** What a curve is measured with; the rest of a traveller would fill the memory. */
function leakPartOf(traveller: Traveller, { name }: LeakStep): Traveller {
  return { ...traveller, curves: traveller.curves.filter(({ step }) => step === name), airflow: undefined };
}

/**
 * How long the longest setting may be: what half of the curves reach, in tenths of a second.
 * @returns null without a curve
 */
export function longestCovered_s(curves: readonly RecordedCurve[]): number | null {
  const reaches = curves.map(({ reach_s }) => reach_s).sort((a, b) => b - a);
  const median_s = reaches[Math.floor((reaches.length - 1) / 2)];
  return median_s === undefined ? null : Math.floor(median_s * 10 + 1e-6) / 10;
}

export interface CurvesMeasured {
  readonly curves: readonly TimingCurve[];
  /** Units' values, by the whole curve where it was measured again. */
  readonly population: readonly PopulationPart[];
  readonly tooShort: number;
  /** Long enough, and yet without a leak rate by the whole curve, or with one far above the limit. */
  readonly leftOut: number;
  /** By what the whole curves were measured. */
  readonly whole: LeakStep;
}

/** The valve's knock is over (common practice, no source). */
const KNOCK_S = 0.3;
/** Leaks larger than so many times the limit say nothing of the error at the limit. */
const NEAR_LIMIT = 2;

/**
 * Measures every curve again by every setting, and by the whole curve: fitted where that has been learned, for a fit knows
 * how heat goes on; else by the method itself after the present settling.
 * @param measured told of each curve as it is done, counted from 1
 */
export async function measureTimings(
  { curves, units }: TimingRecords,
  { limits, step, rate, knowledge }: TimingOrder,
  settings: readonly Timing[],
  longest_s: number,
  measured: (number: number) => void,
): Promise<CurvesMeasured> {
  const reaching = curves.filter(({ reach_s }) => reach_s >= longest_s - 1e-6);
  const isLearned = reaching.length > 0 && reaching.every(({ calibration }) => calibration.settle !== null);
  const settle_s = isLearned ? Math.min(step.settle_s, KNOCK_S) : step.settle_s;
  const whole: LeakStep = {
    ...step,
    ...(isLearned ? { method: { kind: "fitted" } } : {}),
    settle_s,
    measureLongest_s: longest_s - settle_s,
  };
  const upper = toUnit(rate.upper ?? Number.NaN, "leakRate", rate.unit);
  const better = new Map<string, PopulationPart>();
  const done: TimingCurve[] = [];
  for (const [i, { traveller, calibration }] of reaching.entries()) {
    const setup = { limits, knowledge, calibration };
    const again = (other: LeakStep) => rateFound(leakRateAgain(traveller, other, setup), rate.unit);
    const longest = again(whole);
    if (longest) {
      const sd = Math.hypot(longest.constant, longest.relative * longest.value);
      better.set(traveller.id, { mean: longest.value, sd, weight: 1 });
      if (longest.value <= NEAR_LIMIT * upper) {
        const bySetting = settings.map((setting) =>
          again({ ...step, settle_s: setting.settle_s, measureLongest_s: setting.measure_s }),
        );
        done.push({ longest, bySetting });
      }
    }
    measured(i + 1);
    // Ctrl-C and a progress line want their turn.
    await new Promise((resolve) => setImmediate(resolve));
  }
  return {
    curves: done,
    population: units.map(({ id, part }) => better.get(id) ?? part),
    tooShort: curves.length - reaching.length,
    leftOut: reaching.length - done.length,
    whole,
  };
}

function rateFound(again: ReturnType<typeof leakRateAgain>, unit: string): RateFound | null {
  if (again.kind !== "measured") return null;
  const { value_m3_s, constantUncertainty_m3_s, relativeUncertainty } = again.leak;
  return {
    value: toUnit(value_m3_s, "leakRate", unit),
    constant: toUnit(constantUncertainty_m3_s, "leakRate", unit),
    relative: relativeUncertainty,
  };
}
