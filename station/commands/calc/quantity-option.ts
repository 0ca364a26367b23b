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
/** Absolute pressures in a measuring pipe. A gauge pressure given by mistake is mostly lower. */
const PIPE_PA = [30_000, 1_100_000] as const;

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

/** Wider than any duct air is measured in; more is a wrong unit. */
const WIDEST_BORE_M = 10;

/**
 * The diameter of an orifice or a pipe, m.
 * @throws UsageError, also where it is not above zero, or wider than any duct
 */
export function readBore(option: string, text: string): number {
  const bore_m = readAboveZero(option, text, "length");
  if (bore_m <= WIDEST_BORE_M) return bore_m;
  throw new UsageError(
    `${option}: found ${quoted(text)}, expected a diameter of at most ${WIDEST_BORE_M} m.`,
  );
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
 * A pressure below the room's, Pa, positive. A gauge in a plenum under suction reads it negative, so that "-12 kPa" and
 * "12 kPa" are the same.
 * @throws UsageError, also where no room has so much to lose, or where the text says something else
 */
export function readBelowRoom(option: string, text: string): number {
  const { quantity, said } = splitPressure(text);
  const pressure_Pa = readQuantity(option, quantity, "pressure");
  const below_Pa = Math.abs(pressure_Pa);
  const isBelow = said === null || (said === "gauge" && pressure_Pa < 0);
  if (isBelow && below_Pa > 0 && below_Pa <= BAROMETER_PA[1]) return below_Pa;
  throw new UsageError(
    `${option}: found ${quoted(text)}, expected how far below the room's pressure, like "12 kPa" or "-12 kPa" (at most ${BAROMETER_PA[1] / 1000} kPa).`,
  );
}

/**
 * The absolute pressure in a pipe, Pa.
 * @throws UsageError, also where it looks like a gauge pressure, or is more than an ideal gas should be asked about
 */
export function readPipePressure(option: string, text: string): number {
  const { quantity, said } = splitPressure(text);
  const pressure_Pa = readQuantity(option, quantity, "pressure");
  const [least, most] = PIPE_PA;
  if (said !== "gauge" && pressure_Pa >= least && pressure_Pa <= most) return pressure_Pa;
  throw new UsageError(
    `${option}: found ${quoted(text)}, expected the absolute pressure in the pipe, like "1013 hPa" (${least / 1000} to ${most / 1000} kPa).`,
  );
}

/**
 * A relative humidity, 0 to 1.
 * @throws UsageError, also above 100 %
 */
export function readHumidity(option: string, text: string): number {
  const humidity = readQuantity(option, text, "relativeHumidity");
  if (humidity >= 0 && humidity <= 1) return humidity;
  throw new UsageError(`${option}: found ${quoted(text)}, expected a relative humidity from 0 to 100 %.`);
}

/**
 * The part of carbon dioxide in air, mole fraction.
 * @throws UsageError, also above 5 %, where nobody could work: a wrong unit
 */
export function readCo2(option: string, text: string): number {
  const co2 = readQuantity(option, text, "ratio");
  if (co2 >= 0 && co2 <= 0.05) return co2;
  throw new UsageError(`${option}: found ${quoted(text)}, expected a part of 0 to 5 %, like "400 ppm".`);
}

/** @throws UsageError unless the text is a discharge coefficient, above 0 and up to 1 */
export function readCoefficient(text: string): number {
  const value = /^(?:\d+(?:\.\d*)?|\.\d+)$/.test(text.trim()) ? Number(text) : Number.NaN;
  if (value > 0 && value <= 1) return value;
  throw new UsageError(
    `--coefficient: found ${quoted(text)}, expected a number above 0 and up to 1, like 0.6.`,
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
export const DEFAULT_HUMIDITY = "50 %";
/** Sharp edges: 0.60 to 0.62 in fluid mechanics handbooks (from memory); a plane jet's is pi/(pi + 2) = 0.611. */
export const DEFAULT_COEFFICIENT = 0.6;
