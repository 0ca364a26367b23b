import { loadLimitFile } from "../limits/limit-file.ts";
import type { LeakStep, ModelLimits } from "../limits/model.ts";
import { randomStream } from "../sim/random.ts";
import { attemptFacts, attemptOutcome } from "../station/attempt-record.ts";
import {
  type ModelCalibration,
  NOT_CALIBRATED,
  type PreparedAttempt,
  type ReferencePiece,
} from "../station/cycle/attempt.ts";
import { lookAtLeak } from "../station/cycle/early-look.ts";
import { judgeAttempt } from "../station/cycle/judging.ts";
import type { PhaseRecord, UnitEvidence } from "../station/cycle/unit-context.ts";
import {
  type CurveSamples,
  createWatcher,
  type LooksOrder,
  type LooksTaken,
} from "../station/cycle/watchers.ts";
import { readStationFileAlone } from "../station/load-station.ts";
import type { SettleCalibration } from "../station/measure/leak/settle-calibration.ts";
import { NOBODY } from "../station/people/person.ts";
import { Traveller } from "../station/records/traveller.ts";

export const station = readStationFileAlone("sim/demo-station.yaml");

/** The demo's compact body, its leak step alone, by a fixed timer of 10 s and 6 s. */
export const podLeak: ModelLimits = leakOnly(loadLimitFile("limits/models/pod-4.yaml"));

/** What is known of the invented body whose curves `bodyCurve` makes. */
export const SETTLING: SettleCalibration = {
  testPressure_Pa: 5_000,
  fill_s: 3.8,
  tau_s: 2.5,
  tauSpread_s: 0.2,
  heat_Pa: 820,
  heatSpread_Pa: 41,
  slow_Pa: 12,
  slowSpread_Pa: 3,
  slowTau_s: 25,
  background_Pa_s: 0.1,
  backgroundUncertainty_Pa_s: 0.05,
  noise: { white_Pa: 0.6, wander_Pa: 0.05, wanderTau_s: 0.5 },
  meanCurve: {
    t_s: Array.from({ length: 121 }, (_, i) => i / 3),
    pressure_Pa: Array.from(
      { length: 121 },
      (_, i) => 820 * Math.exp(-i / 3 / 2.5) + 12 * Math.exp(-i / 3 / 25) - 2.42,
    ),
  },
  runs: 5,
  watched_s: 40,
};

export const LEARNED: ModelCalibration = {
  settle: {
    calibration: SETTLING,
    date: "2026-01-05T05:00:00.000Z",
    sha256: "c".repeat(64),
    file: "settle.json",
  },
  volume: null,
};

/** @returns the limits with another leak step and another upper limit of the leak rate, m3/s */
export function podWith(step: Partial<LeakStep>, upper?: number): ModelLimits {
  return {
    ...podLeak,
    steps: podLeak.steps.map((one) => (one.kind === "leak" ? { ...one, ...step } : one)),
    characteristics: podLeak.characteristics.map((one) => (upper === undefined ? one : { ...one, upper })),
  };
}

function leakOnly(limits: ModelLimits): ModelLimits {
  return {
    ...limits,
    steps: limits.steps.flatMap((step) =>
      step.kind === "leak"
        ? [
            {
              ...step,
              settle_s: 10,
              measureLongest_s: 6,
              method: { kind: "slope", subtractsMeanCurve: false },
              earlyVerdict: null,
            },
          ]
        : [],
    ),
    characteristics: limits.characteristics
      .filter(({ measurand }) => measurand === "leak_rate")
      .map((one) => ({ ...one, upper: mLmin(25), rule: { kind: "guarded", conformance: 0.95 } })),
  };
}

/** @returns m3/s */
export function mLmin(rate: number): number {
  return rate / 6e7;
}

export interface BodyReading {
  /** Since the shut-off. */
  readonly t_s: number;
  readonly pressure_Pa: number;
}

/** Readings every 20 ms, not quite even, of a 4 L body that loses this much. */
export function bodyCurve(leak_mLmin: number, { seed = 1, seconds = 30 } = {}): BodyReading[] {
  const random = randomStream(seed, "replayed body");
  const slope_Pa_s = (mLmin(leak_mLmin) * 101_325) / 4.4e-3 + SETTLING.background_Pa_s;
  return Array.from({ length: Math.round(seconds * 50) + 1 }, (_, i) => {
    const t_s = (i + 0.3 * Math.sin(i * 12.9898)) * 0.02 + 1e-7 * random.normal();
    const clean_Pa = 4_040 + 820 * Math.exp(-t_s / 2.5) + 12 * Math.exp(-t_s / 25) - 0.83 * slope_Pa_s * t_s;
    return { t_s: i === 0 ? 0 : t_s, pressure_Pa: clean_Pa + 0.6 * random.normal() };
  });
}

export interface MadeAttempt {
  readonly limits?: ModelLimits;
  readonly curve: readonly BodyReading[];
  readonly calibration?: ModelCalibration;
  readonly reference?: ReferencePiece;
  readonly serial?: string;
  readonly number?: number;
  /** Whether the reading that ends settling is the first one measured too; true unless said otherwise. */
  readonly sharesReading?: boolean;
}

/** The traveller that a station would have written of a body with this curve, made of the station's own parts. */
export function madeTraveller(made: MadeAttempt): Traveller {
  const { limits = podLeak, curve, calibration = NOT_CALIBRATED, reference = null, number = 1 } = made;
  const attempt: PreparedAttempt = {
    serial: reference?.serial ?? made.serial ?? "POD000123",
    parts: {},
    limits,
    number,
    kind: number === 1 ? "first" : "retest",
    isDraft: false,
    approvedBy: "C. Holm",
    who: NOBODY,
    missingParts: [],
    retestReasons: [],
    retestReason: null,
    calibration,
    reference,
  };
  const evidence = measuredEvidence(attempt, curve, made.sharesReading ?? true);
  const result = judgeAttempt(attempt, evidence, station.knowledge);
  const facts = attemptFacts(attempt, evidence.startedAt_ms, {
    station,
    software: "drumtight 0.0.0",
    identities: new Map(),
    referenceCheck: null,
  });
  const ended = { at_ms: evidence.startedAt_ms + 40_000, after_s: 40 };
  const outcome = attemptOutcome(attempt, evidence, result, ended, station);
  const traveller = {
    format: "drumtight/traveller/1",
    id: "0".repeat(32),
    ...facts,
    ...outcome,
    ...(facts.reference ? { reference: { ...facts.reference, ...outcome.reference } } : {}),
    chain: { sequence: 1, previous: null },
  };
  return Traveller.parse(JSON.parse(JSON.stringify(traveller)));
}

/** Times of the attempt are no whole microseconds: clocks are not. */
const START_S = 1_234.567_891_3;
const SHUT_S = 3.845_000_31;

function measuredEvidence(
  attempt: PreparedAttempt,
  curve: readonly BodyReading[],
  sharesReading: boolean,
): UnitEvidence {
  const step = attempt.limits.steps.find((one) => one.kind === "leak");
  if (step?.kind !== "leak") throw new Error("There is no leak step.");
  const readings = curve.map(({ t_s, pressure_Pa }) => ({ t_s: START_S + SHUT_S + t_s, value: pressure_Pa }));
  const phase = (name: PhaseRecord["phase"], start_s: number, end_s: number): PhaseRecord => ({
    step: step.name,
    phase: name,
    start_s,
    end_s,
  });
  const before: UnitEvidence = {
    startedAt_ms: Date.UTC(2026, 0, 5, 6, 0, 0),
    start_s: START_S,
    ambient: { temperature_K: 294.351, pressure_Pa: 100_951.7, relativeHumidity: 0.42 },
    leaks: [],
    airflow: [],
    phases: [phase("rest", 0.015, 0.3), phase("fill", 0.3, SHUT_S)],
    fails: [],
    voids: [],
  };
  const settled = watched(readings, 0, step.settle_s);
  const lookAt = lookAtLeak(attempt, before, step, station.knowledge);
  const rule = step.earlyVerdict;
  const looks =
    lookAt && rule ? { first_s: rule.measureShortest_s, every_s: rule.lookEvery_s, lookAt } : undefined;
  const measured = watched(readings, settled.last + (sharesReading ? 0 : 1), step.measureLongest_s, looks);
  const settled_s = (readings[settled.last]?.t_s ?? 0) - START_S;
  const measured_s = (readings[measured.last]?.t_s ?? 0) - START_S;
  return {
    ...before,
    leaks: [
      {
        step: step.name,
        settle: settled.curve,
        measure: measured.curve,
        ...(measured.look ? { look: measured.look } : {}),
      },
    ],
    phases: [
      ...before.phases,
      phase("settle", SHUT_S, settled_s),
      phase("measure", settled_s, measured_s),
      phase("vent", measured_s, measured_s + 0.38),
    ],
  };
}

function watched(
  readings: readonly { readonly t_s: number; readonly value: number }[],
  from: number,
  duration_s: number,
  looks?: LooksOrder,
): { readonly curve: CurveSamples; readonly look?: LooksTaken; readonly last: number } {
  const watcher = createWatcher({
    watch: "curve",
    origin_s: START_S,
    duration_s,
    ...(looks ? { looks } : {}),
  });
  for (let i = from; i < readings.length; i++) {
    const { t_s = 0, value = 0 } = readings[i] ?? {};
    const outcome = watcher.accept([{ channel: "leak_pressure", t_s, value, quality: "good" }]);
    if (outcome?.kind === "curve") return { ...outcome, last: i };
  }
  throw new Error("The curve of this body is too short for its limits.");
}
