import type { Reading } from "../drivers/ports.ts";
import type { Characteristic, LeakStep, ModelLimits } from "../limits/model.ts";
import { convert, toUnit } from "../limits/quantity.ts";
import type { ModelCalibration, PreparedAttempt, ReferencePiece } from "./cycle/attempt.ts";
import type { CharacteristicResult, StationKnowledge } from "./cycle/characteristic-result.ts";
import { lookAtLeak } from "./cycle/early-look.ts";
import { judgeAttempt } from "./cycle/judging.ts";
import { leakConditions, sinceShutOff } from "./cycle/leak-judging.ts";
import type { LeakEvidence, UnitEvidence } from "./cycle/unit-context.ts";
import { type CurveSamples, createWatcher, type LooksOrder } from "./cycle/watchers.ts";
import { type LeakMeasurement, measureLeakRate } from "./measure/leak/leak-rate.ts";
import type { Traveller } from "./records/traveller.ts";
import {
  recordedStepTime_s,
  type StoredLeakCurve,
  type StoredSample,
  stepTime_s,
  storedLeakCurve,
} from "./stored-leak-curve.ts";

/** What stored curves are measured with again. */
export interface ReplaySetup {
  readonly limits: ModelLimits;
  readonly knowledge: StationKnowledge;
  readonly calibration: ModelCalibration;
}

/** What was found, or would have been, of a leak rate; numbers in the unit of the characteristic. */
export interface LeakFinding {
  readonly value: number | null;
  /** Standard uncertainty; null for an estimate that is no measurement. */
  readonly uncertainty: number | null;
  readonly verdict: "pass" | "fail" | "void";
  /** Why it is no pass. */
  readonly why: string | null;
}

/** Why a curve says nothing of the limits it is held against. */
export type NotRemeasured = "curve too short" | "no curve" | "other test pressure" | "no settle calibration";

export type Remeasured =
  | {
      readonly kind: "measured";
      readonly finding: LeakFinding;
      /** By a look, before the longest measuring time. */
      readonly early: boolean;
      /** Of the whole leak step, rest to vented; null where it was broken off. */
      readonly step_s: number | null;
    }
  /** A body that could not be filled stays what it is. */
  | { readonly kind: "gross leak"; readonly finding: LeakFinding; readonly step_s: number | null }
  | { readonly kind: "not measured"; readonly why: NotRemeasured; readonly sentence: string };

/** One judged leak rate of one attempt, as recorded and as measured again. */
export interface ReplayedLeak {
  readonly characteristic: Characteristic;
  /** Null where the attempt was not judged by this characteristic. */
  readonly before: LeakFinding | null;
  readonly beforeStep_s: number | null;
  readonly after: Remeasured;
}

/**
 * Measures the leak curves of a traveller again, by the station's own watchers, looks and judging: with the limits and the
 * knowledge that the attempt was made with, value, uncertainty and verdict are the recorded ones to the last digit.
 * @param traveller of the limits' model
 * @returns one entry for each leak rate that the limits judge
 * @throws RecordError CORRUPT when a stored curve can't be read
 */
export function replayCurves(traveller: Traveller, setup: ReplaySetup): ReplayedLeak[] {
  const attempt = attemptAgain(traveller, setup);
  const steps = attempt.limits.steps.flatMap((step) => (step.kind === "leak" ? [step] : []));
  const seen = new Map(
    steps.map((step) => [step.name, seenAgain(traveller, step, attempt, setup.knowledge)]),
  );
  const leaks = [...seen.values()].flatMap((it) => (it.kind === "seen" ? [it.leak] : []));
  const evidence = { ...evidenceOf(traveller), leaks };
  const results = judgeAttempt(attempt, evidence, setup.knowledge).characteristics;
  return results.map((result) => {
    const { characteristic } = result;
    const step = steps.find(({ name }) => name === characteristic.step);
    const recorded = recordedFinding(traveller, characteristic);
    const again = seen.get(characteristic.step) ?? NO_CURVE;
    return {
      characteristic,
      before: recorded,
      beforeStep_s: step ? recordedStepTime_s(traveller, step) : null,
      after: remeasured(result, recorded, again),
    };
  });
}

/** A leak rate by a step's whole measuring time. */
export type LeakRateAgain =
  | LeakMeasurement
  | { readonly kind: "untrusted"; readonly sentence: string }
  | { readonly kind: "gross leak" }
  | Extract<Remeasured, { kind: "not measured" }>;

/**
 * Measures a stored curve again by a step of the limits, without looks and without judging it.
 * @throws RecordError CORRUPT when it can't be read
 */
export function leakRateAgain(traveller: Traveller, step: LeakStep, setup: ReplaySetup): LeakRateAgain {
  const attempt = attemptAgain(traveller, setup);
  const again = seenAgain(traveller, { ...step, earlyVerdict: null }, attempt, setup.knowledge);
  if (again.kind === "gross leak") return { kind: "gross leak" };
  if (again.kind !== "seen") return again;
  const evidence = evidenceOf(traveller);
  const conditions = leakConditions(step, attempt, evidence, setup.knowledge);
  if (!conditions || !again.leak.measure) return NO_CURVE;
  return measureLeakRate(sinceShutOff(again.leak.measure, step, evidence), step.method, conditions);
}

/** @returns whether a leak step can't be measured before somebody has learned how the model settles */
export function needsSettleCalibration({ method }: LeakStep): boolean {
  return method.kind === "fitted" || method.subtractsMeanCurve;
}

/** What the station's watchers make of a step's stored curve. */
type SeenAgain =
  | {
      readonly kind: "seen";
      readonly leak: LeakEvidence;
      readonly early: boolean;
      readonly step_s: number | null;
    }
  | { readonly kind: "untrusted"; readonly sentence: string; readonly step_s: null }
  | { readonly kind: "gross leak"; readonly step_s: number | null }
  | Extract<Remeasured, { kind: "not measured" }>;

const NO_CURVE: Extract<Remeasured, { kind: "not measured" }> = {
  kind: "not measured",
  why: "no curve",
  sentence: "no pressure was recorded after a shut-off",
};

const CURVE_OF_THE_HOSE: SeenAgain = {
  kind: "not measured",
  why: "no curve",
  sentence: "the fixture was blocked: the gauge saw the hose and not the body",
};

const NOT_LEARNED: SeenAgain = {
  kind: "not measured",
  why: "no settle calibration",
  sentence: "this method needs to know how the model settles",
};

/** A curve that begins farther from the test pressure than the fill may leave it, and this part more, was made at another one. */
const SAME_TEST_PRESSURE_WITHIN = 0.1;

function seenAgain(
  traveller: Traveller,
  step: LeakStep,
  attempt: PreparedAttempt,
  knowledge: StationKnowledge,
): SeenAgain {
  if (traveller.reasons.some(({ code }) => code === "BLOCKED_FIXTURE")) return CURVE_OF_THE_HOSE;
  const stored = storedLeakCurve(traveller, step);
  if (stored === "gross leak") return { kind: "gross leak", step_s: recordedStepTime_s(traveller, step) };
  if (stored === null) return NO_CURVE;
  if (needsSettleCalibration(step) && !attempt.calibration.settle) return NOT_LEARNED;
  const { samples, isShared, shut_us } = stored;
  const elsewhere = otherTestPressure(samples, step);
  if (elsewhere) return elsewhere;

  const settled = watchAgain(samples, 0, step.settle_s, null);
  if (settled?.kind === "untrusted") return { kind: "untrusted", sentence: settled.sentence, step_s: null };
  const evidence = evidenceOf(traveller);
  const from = settled ? settled.last + (isShared ? 0 : 1) : samples.length;
  const measured =
    settled && watchAgain(samples, from, step.measureLongest_s, looks(attempt, evidence, step, knowledge));
  if (!settled || !measured) return tooShort(stored, step);
  if (measured.kind === "untrusted") return { kind: "untrusted", sentence: measured.sentence, step_s: null };
  const end_us = samples[measured.last]?.t_us ?? shut_us;
  return {
    kind: "seen",
    leak: { step: step.name, settle: settled.curve, measure: measured.curve },
    early: measured.early,
    step_s: stepTime_s(traveller, step, end_us),
  };
}

function otherTestPressure(samples: readonly StoredSample[], step: LeakStep): SeenAgain | null {
  const first_Pa = (samples[0]?.pressure_mPa ?? 0) / 1000;
  const { testPressure_Pa, fillTolerance_Pa } = step;
  const within_Pa = fillTolerance_Pa + SAME_TEST_PRESSURE_WITHIN * Math.abs(testPressure_Pa);
  if (Math.abs(first_Pa - testPressure_Pa) <= within_Pa) return null;
  const kPa = (pressure_Pa: number) => `${(pressure_Pa / 1000).toFixed(2)} kPa`;
  return {
    kind: "not measured",
    why: "other test pressure",
    sentence: `the curve begins at ${kPa(first_Pa)}, the limits ask for ${kPa(testPressure_Pa)}`,
  };
}

function tooShort({ samples, shut_us }: StoredLeakCurve, step: LeakStep): SeenAgain {
  const has_s = ((samples.at(-1)?.t_us ?? shut_us) - shut_us) / 1e6;
  const needed_s = step.settle_s + step.measureLongest_s;
  return {
    kind: "not measured",
    why: "curve too short",
    sentence: `the curve ends ${has_s.toFixed(1)} s after the shut-off${step.earlyVerdict ? " without an early verdict" : ""}, ${needed_s.toFixed(1)} s are asked for`,
  };
}

type WatchedAgain =
  | { readonly kind: "curve"; readonly curve: CurveSamples; readonly early: boolean; readonly last: number }
  | { readonly kind: "untrusted"; readonly sentence: string };

/** @returns null where the samples end before the watcher has seen what it waits for */
function watchAgain(
  samples: readonly StoredSample[],
  from: number,
  duration_s: number,
  looksOrder: LooksOrder | null,
): WatchedAgain | null {
  const watcher = createWatcher({
    watch: "curve",
    origin_s: 0,
    duration_s,
    ...(looksOrder ? { looks: looksOrder } : {}),
  });
  for (let i = from; i < samples.length; i++) {
    const outcome = watcher.accept([readingOf(samples[i] as StoredSample)]);
    if (outcome?.kind === "untrusted") return { kind: "untrusted", sentence: outcome.reason.sentence };
    if (outcome?.kind !== "curve") continue;
    return { kind: "curve", curve: outcome.curve, early: outcome.look?.early ?? false, last: i };
  }
  return null;
}

function readingOf({ t_us, pressure_mPa }: StoredSample): Reading {
  return { channel: "leak_pressure", t_s: t_us / 1e6, value: pressure_mPa / 1000, quality: "good" };
}

function looks(
  attempt: PreparedAttempt,
  evidence: UnitEvidence,
  step: LeakStep,
  knowledge: StationKnowledge,
): LooksOrder | null {
  if (!step.earlyVerdict) return null;
  const lookAt = lookAtLeak(attempt, evidence, step, knowledge);
  const { measureShortest_s: first_s, lookEvery_s: every_s } = step.earlyVerdict;
  return lookAt && { first_s, every_s, lookAt };
}

/** The attempt as it would have been prepared under these limits: their leak steps and leak rates only. */
function attemptAgain(traveller: Traveller, { limits, calibration }: ReplaySetup): PreparedAttempt {
  return {
    serial: traveller.serial,
    parts: traveller.parts,
    limits: {
      ...limits,
      steps: limits.steps.filter(({ kind }) => kind === "leak"),
      characteristics: limits.characteristics.filter(({ measurand }) => measurand === "leak_rate"),
    },
    number: traveller.attempt.number,
    kind: traveller.attempt.kind,
    isDraft: traveller.draft,
    approvedBy: traveller.limit_file.approved_by,
    who: { name: traveller.who.inspector, role: traveller.who.role ?? null, how: traveller.who.sign_in },
    missingParts: [],
    retestReasons: [],
    retestReason: traveller.retest_reason ?? null,
    calibration,
    reference: referenceOf(traveller),
  };
}

function referenceOf({ model, reference }: Traveller): ReferencePiece | null {
  if (!reference) return null;
  const { piece, certified_value, tolerance, unit } = reference;
  const inSI = (value: number) => convert(value, unit, "m3/s", "leakRate");
  return {
    serial: piece,
    kind: certified_value === 0 ? "tight" : "leak",
    model,
    certified_m3_s: inSI(certified_value),
    tolerance_m3_s: inSI(tolerance),
    unit,
    orifice: null,
  };
}

function evidenceOf({ started_at, ambient, phases }: Traveller): UnitEvidence {
  return {
    startedAt_ms: Date.parse(started_at),
    start_s: 0,
    ambient: ambient && {
      temperature_K: ambient.temperature_K,
      pressure_Pa: ambient.pressure_Pa,
      relativeHumidity: ambient.relative_humidity,
    },
    leaks: [],
    airflow: [],
    phases: phases
      .filter(({ phase }) => phase === "fill")
      .map(({ step, at_s, seconds }) => ({ step, phase: "fill", start_s: at_s, end_s: at_s + seconds })),
    fails: [],
    voids: [],
  };
}

function remeasured(
  result: CharacteristicResult,
  recorded: LeakFinding | null,
  again: SeenAgain,
): Remeasured {
  switch (again.kind) {
    case "not measured":
      return again;
    case "gross leak":
      // Found in the fill: there is no curve that another method could see otherwise.
      if (!recorded)
        return { kind: "not measured", why: "no curve", sentence: "the body could not be filled" };
      return { kind: "gross leak", finding: recorded, step_s: again.step_s };
    case "untrusted": {
      const finding = { value: null, uncertainty: null, verdict: "void", why: again.sentence } as const;
      return { kind: "measured", finding, early: false, step_s: null };
    }
    case "seen":
      return { kind: "measured", finding: findingOf(result), early: again.early, step_s: again.step_s };
  }
}

function findingOf({ characteristic, value, uncertainty, verdict, why }: CharacteristicResult): LeakFinding {
  const shown = (value_SI: number | null) =>
    value_SI === null ? null : toUnit(value_SI, "leakRate", characteristic.unit);
  return { value: shown(value), uncertainty: shown(uncertainty), verdict, why: why ?? null };
}

/** By name; by its step where that has one leak rate only, so that a new name does not hide it. */
function recordedFinding(traveller: Traveller, { name, step, unit }: Characteristic): LeakFinding | null {
  const ofStep = traveller.characteristics.filter(
    (one) => one.step === step && one.measurand === "leak_rate",
  );
  const recorded = ofStep.find((one) => one.name === name) ?? (ofStep.length === 1 ? ofStep[0] : undefined);
  if (!recorded) return null;
  const shown = (value: number | null) =>
    value === null || recorded.unit === unit ? value : convert(value, recorded.unit, unit, "leakRate");
  return {
    value: shown(recorded.value),
    uncertainty: shown(recorded.uncertainty),
    verdict: recorded.verdict,
    why: recorded.why ?? null,
  };
}
