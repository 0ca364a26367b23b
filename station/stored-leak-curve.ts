import type { LeakStep } from "../limits/model.ts";
import { decodeCurve } from "./records/curve.ts";
import type { Traveller } from "./records/traveller.ts";

type LeakStepName = Pick<LeakStep, "name">;

/** In the whole steps that a traveller keeps. */
export interface StoredSample {
  readonly t_us: number;
  readonly pressure_mPa: number;
}

export interface StoredLeakCurve {
  /** From the shut-off on, in order. */
  readonly samples: readonly StoredSample[];
  /** Whether the reading that ended settling was the first one measured too. */
  readonly isShared: boolean;
  /** When the body was shut off, since the attempt's start. */
  readonly shut_us: number;
}

/**
 * Settling and measuring of a leak step as one curve.
 * @returns "gross leak" for a body that could not be filled, null where nothing was recorded after a shut-off
 * @throws RecordError CORRUPT when it can't be read
 */
export function storedLeakCurve(
  traveller: Traveller,
  step: LeakStepName,
): StoredLeakCurve | "gross leak" | null {
  const shut_us = shutOff_us(traveller, step);
  const phase = (name: string) => samplesOf(traveller, step, name);
  if (phase("gross")) return "gross leak";
  const settle = phase("settle");
  const measure = phase("measure");
  if (shut_us === null || (!settle && !measure)) return null;
  const last = settle?.at(-1);
  const first = measure?.[0];
  const isShared =
    measure === null || (last?.t_us === first?.t_us && last?.pressure_mPa === first?.pressure_mPa);
  return { samples: [...(settle ?? []), ...(measure ?? []).slice(isShared ? 1 : 0)], isShared, shut_us };
}

function samplesOf(traveller: Traveller, step: LeakStepName, phase: string): StoredSample[] | null {
  const stored = traveller.curves.find(
    (curve) => curve.step === step.name && curve.phase === phase && curve.channel === "leak_pressure",
  );
  if (stored?.value_unit !== "mPa") return null;
  return decodeCurve(stored).map(({ t_s, value }) => ({
    t_us: microseconds(t_s),
    pressure_mPa: Math.round(value * 1000),
  }));
}

/** @returns what a leak step took from rest to vented, null where it was broken off */
export function recordedStepTime_s(traveller: Traveller, step: LeakStepName): number | null {
  const measured = samplesOf(traveller, step, "measure")?.at(-1);
  if (measured) return stepTime_s(traveller, step, measured.t_us);
  if (!samplesOf(traveller, step, "gross")) return null;
  const phases = traveller.phases.filter((it) => it.step === step.name);
  return phases.some(({ phase }) => phase === "vent") ? sum(phases.map(({ seconds }) => seconds)) : null;
}

/**
 * What a leak step takes from rest to vented if it measures up to another reading.
 * @param end_us last reading measured, since the attempt's start
 * @returns null where it was broken off
 */
export function stepTime_s(traveller: Traveller, step: LeakStepName, end_us: number): number | null {
  const shut_us = shutOff_us(traveller, step);
  const phases = traveller.phases.filter((it) => it.step === step.name);
  if (shut_us === null || !phases.some(({ phase }) => phase === "vent")) return null;
  const around = phases.filter(({ phase }) => phase !== "settle" && phase !== "measure");
  return sum(around.map(({ seconds }) => seconds)) + (end_us - shut_us) / 1e6;
}

function shutOff_us({ phases }: Traveller, { name }: LeakStepName): number | null {
  const fill = phases.find((it) => it.step === name && it.phase === "fill");
  return fill ? microseconds(fill.at_s) + microseconds(fill.seconds) : null;
}

function microseconds(seconds: number): number {
  return Math.round(seconds * 1e6);
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}
