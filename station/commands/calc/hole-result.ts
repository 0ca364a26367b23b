import { UsageError } from "../../explain.ts";
import { type Capillary, capillaryLeaking } from "../../measure/gas/capillary-flow.ts";
import {
  CRITICAL_PRESSURE_RATIO,
  type Drive,
  isChoked,
  sharpEdgedHole,
} from "../../measure/gas/orifice-flow.ts";
import { type Answer, byDefault, sixDigits } from "./print-result.ts";
import {
  DEFAULT_BAROMETER,
  DEFAULT_COEFFICIENT,
  DEFAULT_TEMPERATURE,
  readAboveZero,
  readBarometer,
  readCoefficient,
  readLeakRate,
  readTemperature,
  readTestPressure,
} from "./quantity-option.ts";

/** What was given of a leak, as texts, by the names of the options. */
interface LeakTexts {
  readonly leakRate: string;
  readonly pressure: string;
  readonly coefficient?: string;
  readonly capillaryLength?: string;
  readonly barometer?: string;
  readonly gasTemperature?: string;
}

/** The same in SI, house defaults filled in. */
interface GivenLeak {
  /** At the house reference. */
  readonly leakRate_m3_s: number;
  readonly drive: Drive;
  readonly gas: "out" | "in";
  readonly barometer_Pa: number;
  readonly coefficient: number;
  readonly capillaryLength_m: number;
  readonly isAssumed: Readonly<
    Record<"coefficient" | "capillaryLength" | "barometer" | "gasTemperature", boolean>
  >;
}

const DEFAULT_CAPILLARY_LENGTH = "3 mm";

/**
 * Reads the options of `calc hole`.
 * @throws UsageError, one sentence, where they are no possible quantities
 */
export function readGivenLeak(given: LeakTexts): GivenLeak {
  const leakRate_m3_s = readLeakRate("--leak-rate", given.leakRate);
  const barometer_Pa = readBarometer("--barometer", given.barometer ?? DEFAULT_BAROMETER);
  const inside = readTestPressure("--pressure", given.pressure, barometer_Pa);
  if (inside.gauge_Pa === 0) {
    throw new UsageError('--pressure: nothing flows without a pressure difference; give one like "-8 kPa".');
  }
  return {
    leakRate_m3_s,
    drive: {
      upstream_Pa: Math.max(inside.absolute_Pa, barometer_Pa),
      downstream_Pa: Math.min(inside.absolute_Pa, barometer_Pa),
      temperature_K: readTemperature("--gas-temperature", given.gasTemperature ?? DEFAULT_TEMPERATURE),
    },
    gas: inside.gauge_Pa > 0 ? "out" : "in",
    barometer_Pa,
    coefficient: given.coefficient === undefined ? DEFAULT_COEFFICIENT : readCoefficient(given.coefficient),
    capillaryLength_m: readAboveZero(
      "--capillary-length",
      given.capillaryLength ?? DEFAULT_CAPILLARY_LENGTH,
      "length",
    ),
    isAssumed: {
      coefficient: given.coefficient === undefined,
      capillaryLength: given.capillaryLength === undefined,
      barometer: given.barometer === undefined,
      gasTemperature: given.gasTemperature === undefined,
    },
  };
}

/** The equivalent hole and capillary, for programs and for people. */
export function holeResult(given: GivenLeak): Answer {
  const { leakRate_m3_s, drive, gas, coefficient, capillaryLength_m, isAssumed } = given;
  const hole = sharpEdgedHole(leakRate_m3_s, drive, coefficient);
  const capillary = capillaryLeaking(leakRate_m3_s, capillaryLength_m, drive);
  const choked = isChoked(drive);
  const ratio = drive.downstream_Pa / drive.upstream_Pa;
  const notes = capillaryNotes(capillary);
  const temperature_degC = drive.temperature_K - 273.15;
  return {
    fields: {
      value: hole.diameter_m * 1000,
      unit: "mm",
      kind: "sharp-edged hole",
      choked,
      pressure_ratio: ratio,
      coefficient: { value: coefficient, assumed: isAssumed.coefficient },
      reynolds: hole.reynolds,
      gas,
      capillary: {
        value: capillary.diameter_m * 1000,
        unit: "mm",
        length: { value: capillaryLength_m * 1000, unit: "mm", assumed: isAssumed.capillaryLength },
        choked: capillary.doubt === "choked",
        formula_holds: capillary.doubt === undefined,
        reynolds: capillary.reynolds,
        notes,
      },
      upstream: { ...kPa(drive.upstream_Pa), kind: "absolute" },
      downstream: { ...kPa(drive.downstream_Pa), kind: "absolute" },
      barometer: { ...kPa(given.barometer_Pa), assumed: isAssumed.barometer },
      gas_temperature: { value: temperature_degC, unit: "degC", assumed: isAssumed.gasTemperature },
    },
    lines: [
      `Sharp-edged hole: ${sixDigits(hole.diameter_m * 1000)} mm, ${choked ? "choked" : "not choked"}`,
      `  coefficient ${coefficient}${byDefault(isAssumed.coefficient)}, Reynolds number ${hole.reynolds.toFixed(0)}`,
      `  air flows ${gas} from ${kPaText(drive.upstream_Pa)} to ${kPaText(drive.downstream_Pa)} absolute, ratio ${ratio.toFixed(4)} (chokes at ${CRITICAL_PRESSURE_RATIO.toFixed(4)})`,
      ...(choked ? [`  ${CHOKED_COEFFICIENT}`] : []),
      `Capillary ${sixDigits(capillaryLength_m * 1000)} mm long${byDefault(isAssumed.capillaryLength)}: ${sixDigits(capillary.diameter_m * 1000)} mm, ${CAPILLARY_WORDS[capillary.doubt ?? "none"]}`,
      `  Reynolds number ${capillary.reynolds.toFixed(0)}`,
      ...notes.map((note) => `  ${note}`),
      `Barometer ${kPaText(given.barometer_Pa)}${byDefault(isAssumed.barometer)}, air at ${sixDigits(temperature_degC)} degC${byDefault(isAssumed.gasTemperature)}.`,
    ],
  };
}

const CAPILLARY_WORDS = {
  none: "not choked",
  choked: "choked",
  turbulent: "not choked; a rough figure, since the flow is turbulent",
  "too short": "not choked; a rough figure, since it is short for its width",
} as const;

const CHOKED_COEFFICIENT =
  "When choked, a sharp edge's coefficient grows, to 0.8 and more (handbooks, from memory): the hole is smaller.";

/** Why the laminar formula does not hold; empty where it does. */
function capillaryNotes({ doubt, reynolds, entranceLength_m }: Capillary): string[] {
  if (doubt === undefined) return [];
  const why = {
    choked: "fails: the air would have to leave faster than sound",
    turbulent: `fails at a Reynolds number of ${reynolds.toFixed(0)}, above 2000`,
    "too short": `is doubtful: laminar flow needs ${(entranceLength_m * 1000).toFixed(1)} mm to develop`,
  }[doubt];
  return [`The laminar formula ${why}. A real one is wider.`];
}

function kPa(pressure_Pa: number): { value: number; unit: string } {
  return { value: pressure_Pa / 1000, unit: "kPa" };
}

function kPaText(pressure_Pa: number): string {
  return `${sixDigits(pressure_Pa / 1000)} kPa`;
}
