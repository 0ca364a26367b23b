import { fitLine } from "../measure/fit/line-fit.ts";
import type { WatchedLine } from "./gauge-watch.ts";

/** How lines follow one another. */
export interface Pace {
  readonly rate_Hz: number;
  /** Standard deviation of the time from line to line. */
  readonly jitter_s: number;
}

/** @returns null for less than three lines */
export function paceOf(lines: readonly WatchedLine[]): Pace | null {
  const first = lines[0];
  const last = lines.at(-1);
  if (!first || !last || lines.length < 3 || !(last.t_s > first.t_s)) return null;
  const interval_s = (last.t_s - first.t_s) / (lines.length - 1);
  let squares = 0;
  for (let i = 1; i < lines.length; i++) {
    squares += ((lines[i]?.t_s ?? 0) - (lines[i - 1]?.t_s ?? 0) - interval_s) ** 2;
  }
  return { rate_Hz: 1 / interval_s, jitter_s: Math.sqrt(squares / (lines.length - 1)) };
}

/** One channel's good values with their times. */
export interface Series {
  readonly t_s: readonly number[];
  readonly value: readonly number[];
}

export function seriesOf(lines: readonly WatchedLine[], channel: string): Series {
  const t_s: number[] = [];
  const value: number[] = [];
  for (const { readings } of lines) {
    const reading = readings.find((candidate) => candidate.channel === channel);
    if (reading?.quality !== "good") continue;
    // Two lines in one chunk may have one time.
    if (t_s.length > 0 && reading.t_s <= (t_s.at(-1) ?? 0)) continue;
    t_s.push(reading.t_s);
    value.push(reading.value);
  }
  return { t_s, value };
}

const LEAST = 10;

/**
 * Standard deviation about a straight line: a slow drift is no noise.
 * @returns null for less than ten readings
 */
export function noiseOf({ t_s, value }: Series): number | null {
  return t_s.length < LEAST ? null : fitLine(t_s, value).residualDeviation;
}

/**
 * The smallest step between any two values: what the last digit is worth.
 * @returns null where the value never moved
 * @example resolutionOf({ t_s: [0, 1, 2], value: [10, 10.25, 10.05] }) // 0.05
 */
export function resolutionOf({ value }: Series): number | null {
  const different = [...new Set(value)].sort((a, b) => a - b);
  const scale = Math.max(...different.map(Math.abs), Number.MIN_VALUE);
  let smallest = Number.POSITIVE_INFINITY;
  for (let i = 1; i < different.length; i++) {
    const step = (different[i] ?? 0) - (different[i - 1] ?? 0);
    // Below this it is how doubles round.
    if (step > scale * 1e-12) smallest = Math.min(smallest, step);
  }
  return Number.isFinite(smallest) ? smallest : null;
}

/** How a gauge follows a step that somebody made. */
export interface StepResponse {
  readonly from: number;
  readonly to: number;
  /** Until 63 % of the step was shown: the time constant of a gauge that lags, or of how the step was made. */
  readonly t63_s: number;
  readonly t90_s: number;
}

/**
 * The largest step in a series that is at rest at both ends.
 * @param noise standard deviation at rest, in the unit of the values
 * @returns null where no step stands out of the noise
 */
export function stepResponseOf({ t_s, value }: Series, noise: number): StepResponse | null {
  if (value.length < 3 * LEAST) return null;
  const from = median(value.slice(0, LEAST));
  const to = median(value.slice(-LEAST));
  const step = to - from;
  if (!(Math.abs(step) > 20 * noise)) return null;
  const part = (i: number) => ((value[i] ?? 0) - from) / step;
  const begins = value.findIndex((_, i) => part(i) > Math.max(0.02, (5 * noise) / Math.abs(step)));
  const reaches = (wanted: number) => value.findIndex((_, i) => i >= begins && part(i) >= wanted);
  // The step came after the last reading that showed nothing of it.
  const begun_s = t_s[Math.max(0, begins - 1)] ?? 0;
  const after = (i: number) => (t_s[i] ?? begun_s) - begun_s;
  return { from, to, t63_s: after(reaches(1 - Math.exp(-1))), t90_s: after(reaches(0.9)) };
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] ?? 0;
}
