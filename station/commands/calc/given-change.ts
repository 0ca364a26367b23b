import { quoted } from "../../../limits/quantity.ts";
import { UsageError } from "../../explain.ts";
import type { GasState } from "../../measure/gas/pressure-change.ts";
import {
  DEFAULT_TEMPERATURE,
  readAboveZero,
  readBarometer,
  readQuantity,
  readTemperature,
  type SplitPressure,
  splitPressure,
} from "./quantity-option.ts";

/** What was given of a change of pressure, as texts, by the names of the options. */
export interface ChangeTexts {
  readonly volume: string;
  readonly time: string;
  readonly pressureChange?: string;
  readonly gasTemperature?: string;
  readonly startPressure?: string;
  readonly endPressure?: string;
  readonly startTemperature?: string;
  readonly endTemperature?: string;
  readonly barometer?: string;
  readonly startBarometer?: string;
  readonly endBarometer?: string;
}

/** The same in SI, in one of its two forms. */
export type GivenChange = {
  readonly volume_m3: number;
  readonly time_s: number;
  /** The gas temperature was not given: the house default was taken. */
  readonly isTemperatureAssumed: boolean;
} & (
  | { readonly form: "isothermal"; readonly pressureLoss_Pa: number; readonly temperature_K: number }
  | {
      readonly form: "states";
      readonly start: GasState;
      readonly end: GasState;
      /** Room pressures, where a barometer was given. */
      readonly barometer_Pa?: { readonly start: number; readonly end: number };
      /** Said in so many words, as in "100 kPa abs". */
      readonly isSaidAbsolute: boolean;
    }
);

/**
 * Reads the options of `calc leak-rate`.
 * @throws UsageError, one sentence, where options are missing, contradict each other or are no possible quantities
 */
export function readGivenChange(given: ChangeTexts): GivenChange {
  refuseContradictions(given);
  const volume_m3 = readAboveZero("--volume", given.volume, "volume");
  const time_s = readAboveZero("--time", given.time, "time");
  const { gasTemperature, pressureChange, startPressure = "", endPressure = "" } = given;
  const temperature_K = readTemperature("--gas-temperature", gasTemperature ?? DEFAULT_TEMPERATURE);
  if (pressureChange !== undefined) {
    refuseWord("--pressure-change", pressureChange);
    return {
      form: "isothermal",
      volume_m3,
      time_s,
      pressureLoss_Pa: readQuantity("--pressure-change", pressureChange, "pressure"),
      temperature_K,
      isTemperatureAssumed: gasTemperature === undefined,
    };
  }
  const at = (option: string, text: string | undefined) =>
    text === undefined ? temperature_K : readTemperature(option, text);
  const startBarometer_Pa = barometerAt("start", given);
  const endBarometer_Pa = barometerAt("end", given);
  const isGauge = startBarometer_Pa !== undefined;
  const start = statePressure("--start-pressure", startPressure, isGauge);
  const end = statePressure("--end-pressure", endPressure, isGauge);
  if (start.isAbsolute !== end.isAbsolute) {
    const [absolute, gauge] = start.isAbsolute ? [start, end] : [end, start];
    throw new UsageError(
      `${absolute.option} is absolute (${quoted(absolute.text)}) and ${gauge.option} is not (${quoted(gauge.text)} is gauge, as a barometer is given): write both the same way.`,
    );
  }
  return {
    form: "states",
    volume_m3,
    time_s,
    start: {
      pressure_Pa: absolutePressure(start, startBarometer_Pa),
      temperature_K: at("--start-temperature", given.startTemperature),
    },
    end: {
      pressure_Pa: absolutePressure(end, endBarometer_Pa),
      temperature_K: at("--end-temperature", given.endTemperature),
    },
    isTemperatureAssumed: gasTemperature === undefined && given.startTemperature === undefined,
    isSaidAbsolute: start.said === "absolute" && end.said === "absolute",
    ...(startBarometer_Pa === undefined || endBarometer_Pa === undefined
      ? {}
      : { barometer_Pa: { start: startBarometer_Pa, end: endBarometer_Pa } }),
  };
}

function refuseContradictions(given: ChangeTexts): void {
  const { pressureChange, startPressure, endPressure, gasTemperature, startTemperature, endTemperature } =
    given;
  const hasStates = startPressure !== undefined || endPressure !== undefined;
  if (pressureChange === undefined && !hasStates) {
    throw new UsageError(
      'Give --pressure-change, like "150 Pa", or --start-pressure and --end-pressure, like "111.325 kPa" and "111.175 kPa".',
    );
  }
  if (pressureChange !== undefined && hasStates) {
    throw new UsageError(
      "Give either --pressure-change or --start-pressure and --end-pressure, not both: they are two forms of one thing.",
    );
  }
  if (pressureChange !== undefined) {
    const stray = (
      [
        ["--start-temperature", startTemperature],
        ["--end-temperature", endTemperature],
        ["--barometer", given.barometer],
        ["--start-barometer", given.startBarometer],
        ["--end-barometer", given.endBarometer],
      ] as const
    ).find(([, text]) => text !== undefined);
    if (!stray) return;
    throw new UsageError(
      `${stray[0]} has no place beside --pressure-change, which is for constant conditions: give --start-pressure and --end-pressure instead.`,
    );
  }
  requirePair("--start-pressure", startPressure, "--end-pressure", endPressure);
  requirePair("--start-temperature", startTemperature, "--end-temperature", endTemperature);
  requirePair("--start-barometer", given.startBarometer, "--end-barometer", given.endBarometer);
  if (gasTemperature !== undefined && startTemperature !== undefined) {
    throw new UsageError(
      "Give either --gas-temperature, where it is constant, or --start-temperature and --end-temperature, not both.",
    );
  }
  if (given.barometer !== undefined && given.startBarometer !== undefined) {
    throw new UsageError(
      "Give either --barometer, where it is constant, or --start-barometer and --end-barometer, not both.",
    );
  }
}

function requirePair(
  one: string,
  first: string | undefined,
  other: string,
  second: string | undefined,
): void {
  if ((first === undefined) === (second === undefined)) return;
  const [given, missing] = first === undefined ? [other, one] : [one, other];
  throw new UsageError(`${given} is given but ${missing} is not: give both.`);
}

function barometerAt(moment: "start" | "end", given: ChangeTexts): number | undefined {
  if (given.barometer !== undefined) return readBarometer("--barometer", given.barometer);
  const text = moment === "start" ? given.startBarometer : given.endBarometer;
  return text === undefined ? undefined : readBarometer(`--${moment}-barometer`, text);
}

interface StatePressure extends SplitPressure {
  readonly option: string;
  readonly text: string;
  readonly isAbsolute: boolean;
}

/** What is not said is gauge where a barometer is given, else absolute. */
function statePressure(option: string, text: string, hasBarometer: boolean): StatePressure {
  const split = splitPressure(text);
  if (split.said === "gauge" && !hasBarometer) {
    throw new UsageError(`${option}: ${quoted(text)} is a gauge pressure: give --barometer too.`);
  }
  return { ...split, option, text, isAbsolute: split.said === "absolute" || !hasBarometer };
}

function absolutePressure(
  { option, text, quantity, said, isAbsolute }: StatePressure,
  barometer_Pa: number | undefined,
): number {
  const pressure_Pa = readQuantity(option, quantity, "pressure");
  const absolute_Pa = isAbsolute ? pressure_Pa : pressure_Pa + (barometer_Pa ?? 0);
  if (absolute_Pa > 0) return absolute_Pa;
  if (!isAbsolute) {
    throw new UsageError(
      `${option}: found ${quoted(text)}, which with this barometer is not above zero absolute.`,
    );
  }
  const hint = said === null ? "; if it is a gauge pressure, give --barometer too" : "";
  throw new UsageError(`${option}: found ${quoted(text)}, expected an absolute pressure above zero${hint}.`);
}

function refuseWord(option: string, text: string): void {
  const { quantity, said } = splitPressure(text);
  if (said === null) return;
  throw new UsageError(
    `${option}: found ${quoted(text)}; a change of pressure is neither absolute nor gauge, so write ${quoted(quantity)}.`,
  );
}
