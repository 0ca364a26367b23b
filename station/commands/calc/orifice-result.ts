import { quoted } from "../../../limits/quantity.ts";
import { UsageError } from "../../explain.ts";
import type { MoistAir } from "../../measure/air/moist-air.ts";
import { airViscosity_Pa_s } from "../../measure/gas/dry-air.ts";
import { type PressureTaps, pipeOrificeFlow } from "../../measure/gas/iso-5167.ts";
import { CRITICAL_PRESSURE_RATIO, reynoldsNumber } from "../../measure/gas/orifice-flow.ts";
import { plenumOrificeFlow } from "../../measure/gas/plenum-orifice.ts";
import { possibleAir } from "./possible-air.ts";
import { type Answer, byDefault, sixDigits } from "./print-result.ts";
import {
  DEFAULT_BAROMETER,
  DEFAULT_COEFFICIENT,
  DEFAULT_HUMIDITY,
  DEFAULT_TEMPERATURE,
  readAboveZero,
  readBarometer,
  readBelowRoom,
  readBore,
  readCoefficient,
  readHumidity,
  readPipePressure,
  readTemperature,
} from "./quantity-option.ts";

/** What was given of an orifice, as texts, by the names of the options. */
interface OrificeTexts {
  readonly diameter: string;
  readonly pressureDrop: string;
  readonly upstreamPressure?: string;
  readonly temperature?: string;
  readonly humidity?: string;
  readonly pipe?: string;
  readonly taps?: PressureTaps;
  readonly coefficient?: string;
}

type Assumable = "upstreamPressure" | "temperature" | "humidity" | "coefficient";

interface GivenOrifice {
  readonly bore_m: number;
  readonly drop_Pa: number;
  readonly upstream_Pa: number;
  readonly temperature_K: number;
  readonly relativeHumidity: number;
  readonly coefficient: number | null;
  readonly pipe: { readonly pipe_m: number; readonly taps: PressureTaps } | null;
  readonly isAssumed: Readonly<Record<Assumable, boolean>>;
}

/**
 * Reads the options of `calc orifice`.
 * @throws UsageError, one sentence, where they are no possible orifice
 */
export function readGivenOrifice(given: OrificeTexts): GivenOrifice {
  const bore_m = readBore("--diameter", given.diameter);
  const pipe = readPipe(given, bore_m);
  const upstreamText = given.upstreamPressure ?? DEFAULT_BAROMETER;
  const upstream_Pa = pipe
    ? readPipePressure("--upstream-pressure", upstreamText)
    : readBarometer("--upstream-pressure", upstreamText);
  const drop_Pa = pipe
    ? readAboveZero("--pressure-drop", given.pressureDrop, "pressure")
    : readBelowRoom("--pressure-drop", given.pressureDrop);
  if (!(drop_Pa < upstream_Pa)) {
    throw new UsageError(
      `--pressure-drop: found ${quoted(given.pressureDrop)}, but upstream there are only ${sixDigits(upstream_Pa / 1000)} kPa absolute; a drop is smaller.`,
    );
  }
  return {
    bore_m,
    drop_Pa,
    upstream_Pa,
    temperature_K: readTemperature("--temperature", given.temperature ?? DEFAULT_TEMPERATURE),
    relativeHumidity: readHumidity("--humidity", given.humidity ?? DEFAULT_HUMIDITY),
    coefficient: given.coefficient === undefined ? null : readCoefficient(given.coefficient),
    pipe,
    isAssumed: {
      upstreamPressure: given.upstreamPressure === undefined,
      temperature: given.temperature === undefined,
      humidity: given.humidity === undefined,
      coefficient: given.coefficient === undefined,
    },
  };
}

function readPipe({ pipe, taps, diameter }: OrificeTexts, bore_m: number): GivenOrifice["pipe"] {
  if (pipe === undefined && taps === undefined) return null;
  if (pipe === undefined)
    throw new UsageError('--taps: those are a pipe\'s; give --pipe too, like "100 mm".');
  if (taps === undefined)
    throw new UsageError("--pipe: say where the pressures are taken, --taps corner, flange or d-d2.");
  const pipe_m = readBore("--pipe", pipe);
  if (bore_m < pipe_m) return { pipe_m, taps };
  throw new UsageError(
    `--diameter: an orifice of ${diameter} does not fit into a pipe of ${pipe}; --diameter is the bore, --pipe the pipe.`,
  );
}

/** The flow, for programs and for people. */
export function orificeResult(given: GivenOrifice): Answer {
  const { upstream_Pa, drop_Pa, temperature_K, relativeHumidity, isAssumed } = given;
  const air = possibleAir({ temperature_K, pressure_Pa: upstream_Pa, relativeHumidity }, isAssumed.humidity);
  const flow = given.pipe ? pipeFlow(given, given.pipe, air) : plenumFlow(given, air);
  return {
    fields: {
      value: flow.volumeFlow_m3_s * 1000,
      unit: "L/s",
      at: "density upstream",
      mass_flow: { value: flow.massFlow_kg_s, unit: "kg/s" },
      ...flow.fields,
      pressure_ratio: (upstream_Pa - drop_Pa) / upstream_Pa,
      density: { value: air.density_kg_m3, unit: "kg/m3" },
      upstream: {
        value: upstream_Pa / 1000,
        unit: "kPa",
        kind: "absolute",
        assumed: isAssumed.upstreamPressure,
      },
      temperature: { value: temperature_K - 273.15, unit: "degC", assumed: isAssumed.temperature },
      humidity: { value: relativeHumidity * 100, unit: "%", assumed: isAssumed.humidity },
      doubts: air.doubts,
    },
    lines: [
      `Volume flow: ${sixDigits(flow.volumeFlow_m3_s * 1000)} L/s at the density upstream, mass flow ${sixDigits(flow.massFlow_kg_s)} kg/s`,
      ...flow.lines.map((line) => `  ${line}`),
      `Air of ${sixDigits(air.density_kg_m3)} kg/m3: ${sixDigits(upstream_Pa / 1000)} kPa absolute${byDefault(isAssumed.upstreamPressure)}, ${sixDigits(temperature_K - 273.15)} degC${byDefault(isAssumed.temperature)}, ${sixDigits(relativeHumidity * 100)} %${byDefault(isAssumed.humidity)}.`,
      ...air.doubts.map((doubt) => `  Doubtful density: ${doubt}`),
    ],
  };
}

interface FlowWords {
  readonly volumeFlow_m3_s: number;
  readonly massFlow_kg_s: number;
  readonly fields: Readonly<Record<string, unknown>>;
  readonly lines: readonly string[];
}

function plenumFlow(given: GivenOrifice, { density_kg_m3 }: MoistAir): FlowWords {
  const coefficient = given.coefficient ?? DEFAULT_COEFFICIENT;
  const flow = plenumOrificeFlow({ ...given, coefficient, density_kg_m3 });
  const reynolds = reynoldsNumber(flow.massFlow_kg_s, given.bore_m, given.temperature_K);
  const isAssumed = given.isAssumed.coefficient;
  const pressureRatio = 1 - given.drop_Pa / given.upstream_Pa;
  const outside = sharpEdgeOutside(pressureRatio);
  return {
    ...flow,
    fields: {
      kind: "sharp edge from a room into a plenum",
      coefficient: { value: coefficient, assumed: isAssumed, source: isAssumed ? "house default" : "given" },
      expansibility: flow.expansibility,
      reynolds,
      outside,
    },
    lines: [
      "sharp edge from a room into a plenum",
      `coefficient ${coefficient}${byDefault(isAssumed)}, expansibility ${flow.expansibility.toFixed(6)}, pressure ratio ${pressureRatio.toFixed(4)}`,
      `Reynolds number in the bore ${reynolds.toFixed(0)}`,
      ...outside.map((sentence) => `Outside the standard: ${sentence}`),
    ],
  };
}

/** What of the expansibility's limits of use is not kept, a sentence each. */
function sharpEdgeOutside(pressureRatio: number): string[] {
  if (pressureRatio >= 0.75) return [];
  const outside = [
    `ISO 5167-2's expansibility means at least 0.75 of the upstream pressure behind the orifice, there is ${pressureRatio.toFixed(3)}: its formula is continued.`,
  ];
  if (pressureRatio <= CRITICAL_PRESSURE_RATIO) {
    outside.push(
      `Below ${CRITICAL_PRESSURE_RATIO.toFixed(4)} of it the jet is faster than sound; a sharp edge does not choke sharply there, and more suction still draws a little more air (from memory).`,
    );
  }
  return outside;
}

function pipeFlow(given: GivenOrifice, pipe: NonNullable<GivenOrifice["pipe"]>, air: MoistAir): FlowWords {
  const { bore_m, drop_Pa, upstream_Pa, coefficient } = given;
  const flow = pipeOrificeFlow({
    ...pipe,
    bore_m,
    drop_Pa,
    upstream_Pa,
    density_kg_m3: air.density_kg_m3,
    viscosity_Pa_s: airViscosity_Pa_s(given.temperature_K),
    ...(coefficient === null ? {} : { coefficient }),
  });
  const beta = bore_m / pipe.pipe_m;
  const source = flow.uncertainty === null ? "given" : "ISO 5167-2";
  // Outside its limits of use the standard vouches for nothing.
  const { uncertainty, outside } = flow;
  const uncertainty_percent = uncertainty === null || outside.length > 0 ? null : uncertainty * 100;
  return {
    ...flow,
    fields: {
      kind: "plate in a pipe",
      taps: pipe.taps,
      beta,
      coefficient: {
        value: flow.coefficient,
        assumed: false,
        source,
        ...(uncertainty_percent === null
          ? {}
          : { relative_uncertainty: { value: uncertainty_percent, unit: "%", kind: "standard" } }),
      },
      expansibility: flow.expansibility,
      reynolds: flow.reynolds,
      outside: flow.outside,
    },
    lines: [
      `plate in a pipe of ${sixDigits(pipe.pipe_m * 1000)} mm, ${pipe.taps} taps, bore ${beta.toFixed(4)} of the pipe`,
      `coefficient ${flow.coefficient.toFixed(6)} (${source}${uncertainty_percent === null ? "" : `, standard uncertainty ${Number(uncertainty_percent.toPrecision(2))} %`}), expansibility ${flow.expansibility.toFixed(6)}`,
      `Reynolds number in the pipe ${flow.reynolds.toFixed(0)}`,
      ...flow.outside.map((sentence) => `Outside the standard: ${sentence}`),
    ],
  };
}
