import { airDensityBudget, type RoomAirUncertainty } from "../../measure/air/density-uncertainty.ts";
import {
  type MoistAir,
  type RoomAir,
  STANDARD_DENSITY_kg_m3,
  USUAL_CO2,
} from "../../measure/air/moist-air.ts";
import { combinedUncertainty } from "../../measure/fit/uncertainty.ts";
import { airViscosity_Pa_s } from "../../measure/gas/dry-air.ts";
import { possibleAir } from "./possible-air.ts";
import { type Answer, sixDigits } from "./print-result.ts";
import { readAboveZero, readBarometer, readCo2, readHumidity, readTemperature } from "./quantity-option.ts";

/** What was given of the air, as texts, by the names of the options. */
interface AirTexts {
  readonly temperature: string;
  readonly pressure: string;
  readonly humidity: string;
  readonly co2?: string;
  readonly temperatureUncertainty?: string;
  readonly pressureUncertainty?: string;
  readonly humidityUncertainty?: string;
}

interface GivenAir {
  readonly air: Required<RoomAir>;
  readonly moist: MoistAir;
  readonly uncertainty: RoomAirUncertainty;
  readonly isCo2Assumed: boolean;
  /** Whether any uncertainty of a reading was given. */
  readonly isUncertain: boolean;
}

/**
 * Reads the options of `calc air-density`.
 * @throws UsageError, one sentence, where they are no possible air
 */
export function readGivenAir(given: AirTexts): GivenAir {
  const air = {
    temperature_K: readTemperature("--temperature", given.temperature),
    pressure_Pa: readBarometer("--pressure", given.pressure),
    relativeHumidity: readHumidity("--humidity", given.humidity),
    co2: given.co2 === undefined ? USUAL_CO2 : readCo2("--co2", given.co2),
  };
  const { temperatureUncertainty, pressureUncertainty, humidityUncertainty } = given;
  const spread = (
    option: string,
    text: string | undefined,
    dimension: Parameters<typeof readAboveZero>[2],
  ) => (text === undefined ? 0 : readAboveZero(option, text, dimension));
  const uncertainty = {
    temperature_K: spread("--temperature-uncertainty", temperatureUncertainty, "temperatureDifference"),
    pressure_Pa: spread("--pressure-uncertainty", pressureUncertainty, "pressure"),
    relativeHumidity: spread("--humidity-uncertainty", humidityUncertainty, "relativeHumidity"),
    co2: 0,
  };
  const isUncertain = Object.values(uncertainty).some((value) => value > 0);
  return { air, moist: possibleAir(air), uncertainty, isCo2Assumed: given.co2 === undefined, isUncertain };
}

/** The density and what goes with it, for programs and for people. */
export function airDensityResult({ air, moist, uncertainty, isCo2Assumed, isUncertain }: GivenAir): Answer {
  const budget = airDensityBudget(air, uncertainty);
  const combined_kg_m3 = combinedUncertainty(budget);
  const density_kg_m3 = moist.density_kg_m3;
  const toStandard = density_kg_m3 / STANDARD_DENSITY_kg_m3;
  const viscosity_Pa_s = airViscosity_Pa_s(air.temperature_K);
  const inputs = budget.filter((line) => line.uncertainty > 0);
  return {
    fields: {
      value: density_kg_m3,
      unit: "kg/m3",
      uncertainty: {
        value: combined_kg_m3,
        unit: "kg/m3",
        kind: "standard",
        at_least: moist.doubts.length > 0,
        of: isUncertain ? "the readings given and the equation" : "the equation alone",
        inputs: inputs.map(({ component, contribution }) => ({
          component,
          value: contribution,
          unit: "kg/m3",
        })),
      },
      ratio_to_standard: {
        value: toStandard,
        standard_density: { value: STANDARD_DENSITY_kg_m3, unit: "kg/m3" },
      },
      saturation_pressure: { value: moist.saturationPressure_Pa / 1000, unit: "kPa" },
      enhancement: moist.enhancement,
      vapour_fraction: moist.vapourFraction,
      compressibility: moist.compressibility,
      viscosity: { value: viscosity_Pa_s, unit: "Pa.s", of: "dry air" },
      co2: { value: air.co2 * 1e6, unit: "ppm", assumed: isCo2Assumed },
      doubts: moist.doubts,
    },
    lines: [
      `Density: ${sixDigits(density_kg_m3)} kg/m3, ${toStandard.toFixed(5)} of the standard 1.20 kg/m3`,
      ...moist.doubts.map((doubt) => `  Doubtful: ${doubt}`),
      `  standard uncertainty ${spreadText(combined_kg_m3)} kg/m3${moist.doubts.length > 0 ? " and more" : ""}${isUncertain ? "" : ", of the equation alone: the readings' own are not in it"}`,
      ...(isUncertain
        ? inputs.map(
            ({ component, contribution }) => `    ${component.padEnd(20)}${spreadText(contribution)} kg/m3`,
          )
        : []),
      `  saturation pressure ${sixDigits(moist.saturationPressure_Pa / 1000)} kPa, enhancement ${moist.enhancement.toFixed(6)}`,
      `  vapour ${sixDigits(moist.vapourFraction * 100)} % of the molecules, compressibility ${moist.compressibility.toFixed(6)}`,
      `  viscosity ${sixDigits(viscosity_Pa_s)} Pa s (dry air)`,
      `CO2 ${sixDigits(air.co2 * 1e6)} ppm${isCo2Assumed ? " (not given; CIPM-2007's own)" : ""}.`,
    ],
  };
}

function spreadText(value: number): string {
  return String(Number(value.toPrecision(2)));
}
