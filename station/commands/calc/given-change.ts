import { UsageError } from "../../explain.ts";
import type { GasState } from "../../measure/gas/pressure-change.ts";
import {
  DEFAULT_TEMPERATURE,
  readAboveZero,
  readBarometer,
  readQuantity,
  readTemperature,
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
      /** Room pressure at the start, where a barometer was given. */
      readonly barometer_Pa?: number;
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
  const { gasTemperature, pressureChange, startPressure, endPressure } = given;
  const temperature_K = readTemperature("--gas-temperature", gasTemperature ?? DEFAULT_TEMPERATURE);
  if (pressureChange !== undefined) {
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
  return {
    form: "states",
    volume_m3,
    time_s,
    start: {
      pressure_Pa: absolutePressure("--start-pressure", startPressure ?? "", startBarometer_Pa),
      temperature_K: at("--start-temperature", given.startTemperature),
    },
    end: {
      pressure_Pa: absolutePressure("--end-pressure", endPressure ?? "", endBarometer_Pa),
      temperature_K: at("--end-temperature", given.endTemperature),
    },
    isTemperatureAssumed: gasTemperature === undefined && given.startTemperature === undefined,
    ...(startBarometer_Pa === undefined ? {} : { barometer_Pa: startBarometer_Pa }),
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

function absolutePressure(option: string, text: string, barometer_Pa: number | undefined): number {
  const pressure_Pa = readQuantity(option, text, "pressure");
  const absolute_Pa = pressure_Pa + (barometer_Pa ?? 0);
  if (absolute_Pa > 0) return absolute_Pa;
  throw new UsageError(
    barometer_Pa === undefined
      ? `${option}: found "${text}", expected an absolute pressure above zero; if it is a gauge pressure, give --barometer too.`
      : `${option}: found "${text}", which with this barometer is not above zero absolute.`,
  );
}
