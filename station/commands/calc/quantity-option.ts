import { convertText } from "../../../limits/convert-text.ts";
import {
  type Dimension,
  describeFailure,
  HOUSE_REFERENCE,
  parseQuantity,
  quoted,
} from "../../../limits/quantity.ts";
import { UsageError } from "../../explain.ts";

/** Barometric pressures people work at, mines and high mountains included; anything else is a wrong unit. */
const BAROMETER_PA = [30_000, 120_000] as const;

/**
 * The SI value of a quantity given with an option.
 * @throws UsageError that names the option and says what to write
 */
export function readQuantity(option: string, text: string, dimension: Dimension): number {
  const parsed = parseQuantity(text, dimension);
  if (!parsed.ok) throw new UsageError(`${option}: ${describeFailure(parsed)}.`);
  return parsed.value.value_SI;
}

/** @throws UsageError, also where the value is not above zero */
export function readAboveZero(option: string, text: string, dimension: Dimension): number {
  const value = readQuantity(option, text, dimension);
  if (!(value > 0)) throw new UsageError(`${option}: found ${quoted(text)}, expected a value above zero.`);
  return value;
}

/**
 * A temperature of gas, K.
 * @throws UsageError, also at absolute zero
 */
export function readTemperature(option: string, text: string): number {
  const temperature_K = readQuantity(option, text, "temperature");
  if (temperature_K > 0) return temperature_K;
  throw new UsageError(`${option}: found ${quoted(text)}, expected a temperature above absolute zero.`);
}

/**
 * A barometric pressure, Pa.
 * @throws UsageError, also where nobody could breathe
 */
export function readBarometer(option: string, text: string): number {
  const { quantity, said } = splitPressure(text);
  const pressure_Pa = readQuantity(option, quantity, "pressure");
  const [least, most] = BAROMETER_PA;
  if (said !== "gauge" && pressure_Pa >= least && pressure_Pa <= most) return pressure_Pa;
  throw new UsageError(
    `${option}: found ${quoted(text)}, expected the room's absolute pressure, like "1013 hPa" (${least / 1000} to ${most / 1000} kPa).`,
  );
}

/**
 * A leak rate at the house reference, m3/s.
 * @throws UsageError; where the text leaves its conditions open, with the readings it could have
 */
export function readLeakRate(option: string, text: string): number {
  const parsed = parseQuantity(text, "leakRate");
  if (parsed.ok && parsed.value.value_SI > 0) return parsed.value.value_SI;
  if (parsed.ok) {
    throw new UsageError(`${option}: found ${quoted(text)}, expected a leak rate above zero.`);
  }
  const open = convertText(text, "mL/min @ 20 degC");
  throw new UsageError(`${option}: ${open.ok ? describeFailure(parsed) : open.sentence}`);
}

/** The text of a pressure without the word at its end that says what it is counted from. */
export interface SplitPressure {
  readonly quantity: string;
  readonly said: "absolute" | "gauge" | null;
}

/** @example splitPressure("20 kPa abs") // { quantity: "20 kPa", said: "absolute" } */
export function splitPressure(text: string): SplitPressure {
  const [, quantity = text, word] = /^(.*?)\s*(abs\.?|absolute|gauge)?$/i.exec(text.trim()) ?? [];
  if (word === undefined) return { quantity, said: null };
  return { quantity, said: word.toLowerCase().startsWith("abs") ? "absolute" : "gauge" };
}

/** A test pressure, and whether it was said to be absolute. */
export interface TestPressure {
  readonly absolute_Pa: number;
  readonly gauge_Pa: number;
}

/**
 * A pressure above the room's (negative: below it), or absolute where its text ends in "abs".
 * @throws UsageError, also where it would be below zero absolute
 */
export function readTestPressure(option: string, text: string, barometer_Pa: number): TestPressure {
  const { quantity, said } = splitPressure(text);
  const isAbsolute = said === "absolute";
  const pressure_Pa = readQuantity(option, quantity, "pressure");
  const absolute_Pa = isAbsolute ? pressure_Pa : pressure_Pa + barometer_Pa;
  if (absolute_Pa > 0) return { absolute_Pa, gauge_Pa: absolute_Pa - barometer_Pa };
  throw new UsageError(
    `${option}: found ${quoted(text)}, expected a pressure above a perfect vacuum${isAbsolute ? "" : `, which is -${barometer_Pa / 1000} kPa here; an absolute pressure is written "20 kPa abs"`}.`,
  );
}

/** House defaults, said in the output wherever they are used. */
export const DEFAULT_BAROMETER = `${HOUSE_REFERENCE.pressure_Pa / 1000} kPa`;
export const DEFAULT_TEMPERATURE = "20 degC";
