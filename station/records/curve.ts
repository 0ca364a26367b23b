import { RecordError } from "./record-error.ts";

/** One value of a channel and the time since the attempt's start, in SI. */
export interface CurveSample {
  readonly t_s: number;
  readonly value: number;
}

/** What one step of the stored whole numbers is worth. */
export type CurveUnit = keyof typeof STEPS_PER_SI;

/** A curve as a traveller keeps it. */
export interface StoredCurve {
  readonly encoding: typeof CURVE_ENCODING;
  readonly samples: number;
  readonly time_unit: "us";
  readonly value_unit: CurveUnit;
  readonly data: string;
}

/**
 * Per sample two integers, one after the other: the second difference of the time, the first difference of the
 * value, both starting from zero; each zigzag-mapped and written as a base-128 varint, least significant group
 * first (as Protocol Buffers does), the whole in base64 (RFC 4648 section 4).
 */
export const CURVE_ENCODING = "delta-zigzag-varint-base64/1";

const STEPS_PER_SI = { mPa: 1e3, mW: 1e3, mV: 1e3, mK: 1e3, "mm3/s": 1e9 } as const;
const STEPS_PER_SECOND = 1e6;
// Second differences of integers up to this are exact in a double, zigzag included.
const LARGEST = 2 ** 50;
const LONGEST_VARINT = 8;

export const CURVE_UNITS = ["mPa", "mW", "mV", "mK", "mm3/s"] as const satisfies readonly CurveUnit[];

/**
 * Samples rounded to what a stored curve can hold: whole microseconds and whole steps of `unit`. Measure on these,
 * so that the stored curve measures to the same last digit.
 * @throws RecordError INVALID_RECORD on a sample that is not finite or beyond 2^50 steps
 * @example quantise([{ t_s: 0.0401234567, value: -8000.00049 }], "mPa") // [{ t_s: 0.040123, value: -8000 }]
 */
export function quantise(samples: readonly CurveSample[], unit: CurveUnit): CurveSample[] {
  const perSI = STEPS_PER_SI[unit];
  return samples.map(({ t_s, value }) => ({
    t_s: steps(t_s, STEPS_PER_SECOND) / STEPS_PER_SECOND,
    value: steps(value, perSI) / perSI,
  }));
}

/**
 * @param samples in SI, in any order of time; rounded as by `quantise`
 * @throws RecordError INVALID_RECORD on a sample that is not finite or beyond 2^50 steps
 */
export function encodeCurve(samples: readonly CurveSample[], unit: CurveUnit): StoredCurve {
  const perSI = STEPS_PER_SI[unit];
  const bytes: number[] = [];
  let lastTime = 0;
  let lastInterval = 0;
  let lastValue = 0;
  for (const sample of samples) {
    const time = steps(sample.t_s, STEPS_PER_SECOND);
    const value = steps(sample.value, perSI);
    const interval = time - lastTime;
    pushVarint(bytes, interval - lastInterval);
    pushVarint(bytes, value - lastValue);
    lastTime = time;
    lastInterval = interval;
    lastValue = value;
  }
  return {
    encoding: CURVE_ENCODING,
    samples: samples.length,
    time_unit: "us",
    value_unit: unit,
    data: Buffer.from(bytes).toString("base64"),
  };
}

/**
 * The samples in SI, exactly as `quantise` gave them. There is one text for each curve; any other is refused.
 * @throws RecordError CORRUPT
 */
export function decodeCurve(stored: StoredCurve): CurveSample[] {
  const perSI = STEPS_PER_SI[stored.value_unit];
  const bytes = Buffer.from(stored.data, "base64");
  if (bytes.toString("base64") !== stored.data) throw broken("its data is not base64");
  const samples: CurveSample[] = [];
  let at = 0;
  const next = (): number => {
    let scale = 1;
    let sum = 0;
    for (let length = 1; length <= LONGEST_VARINT; length++) {
      const byte = bytes[at++];
      if (byte === undefined) throw broken("its data ends in the middle of a sample");
      sum += (byte & 0x7f) * scale;
      scale *= 128;
      if (byte < 0x80) {
        if (byte === 0 && length > 1) throw broken("a number in it is written longer than needed");
        return sum % 2 === 0 ? sum / 2 : -(sum + 1) / 2;
      }
    }
    throw broken("a number in it is too large");
  };
  let time = 0;
  let interval = 0;
  let value = 0;
  while (at < bytes.length) {
    interval += next();
    time += interval;
    value += next();
    if (Math.abs(time) > LARGEST || Math.abs(value) > LARGEST) throw broken("a number in it is too large");
    samples.push({ t_s: time / STEPS_PER_SECOND, value: value / perSI });
  }
  if (samples.length !== stored.samples) {
    throw broken(`it holds ${samples.length} samples and claims ${stored.samples}`);
  }
  return samples;
}

function steps(value_SI: number, perSI: number): number {
  const whole = Math.round(value_SI * perSI) + 0; // + 0: no negative zero, which JSON can't carry
  if (!(Math.abs(whole) <= LARGEST)) {
    throw new RecordError("INVALID_RECORD", "", `A curve cannot hold the value ${value_SI}.`);
  }
  return whole;
}

function pushVarint(bytes: number[], value: number): void {
  let rest = value < 0 ? -2 * value - 1 : 2 * value;
  while (rest >= 128) {
    bytes.push((rest % 128) + 128);
    rest = Math.floor(rest / 128);
  }
  bytes.push(rest);
}

function broken(why: string): RecordError {
  return new RecordError("CORRUPT", "", `A stored curve can't be read: ${why}.`);
}
