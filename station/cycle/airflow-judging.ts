import type { AirflowStep, Characteristic } from "../../limits/model.ts";
import type { AirflowConditions, MeanReading, PointMeans } from "../measure/airflow/airflow-evidence.ts";
import type { Undetermined } from "../measure/airflow/fan-curve.ts";
import { type AirflowPerformance, measureAirflow } from "../measure/airflow/performance.ts";
import type { Measured } from "../measure/fit/propagation.ts";
import { settledMean } from "../measure/steady/settled-mean.ts";
import { LEAST_READINGS } from "../measure/steady/trend.ts";
import {
  type CharacteristicResult,
  judged,
  notMeasured,
  type StationKnowledge,
} from "./characteristic-result.ts";
import { NOT_REACHED } from "./missing-values.ts";
import type { ChannelSamples } from "./point-watch.ts";
import type { AirflowEvidence, Ambient, UnitEvidence } from "./unit-context.ts";

/** What one airflow step yielded. */
export interface AirflowResult {
  readonly step: AirflowStep;
  readonly conditions: AirflowConditions;
  /** Of the points that were reached, in their order. */
  readonly points: readonly AirflowPointResult[];
  readonly performance: AirflowPerformance;
}

interface AirflowPointResult {
  readonly means: PointMeans;
  readonly samples: number;
}

/**
 * Suction, flow, power and what follows from them, of the points that a step has reached.
 * @returns why it can't be calculated, where it can't
 */
export function measureAirflowStep(
  step: AirflowStep,
  evidence: Pick<UnitEvidence, "ambient" | "airflow">,
  station: StationKnowledge,
): AirflowResult | Undetermined {
  const held = step.points.flatMap((point) => {
    const found = evidence.airflow.find((it) => it.step === step.name && it.point === point.name);
    return found ? [{ ...found, orifice: point.orifice }] : [];
  });
  if (held.length === 0 || !evidence.ambient) return none(NOT_REACHED);
  const conditions = airflowConditions(step, evidence.ambient, station);
  if (!conditions) return none("the station file does not say how well the room's air is known");
  if (held.some(({ samples }) => samples.suction_Pa.values.length < LEAST_READINGS))
    return none("too few samples");
  try {
    const points = held.map((point) => ({
      means: meansOf(point),
      samples: point.samples.suction_Pa.values.length,
    }));
    const performance = measureAirflow(
      points.map(({ means }) => means),
      conditions,
    );
    return { step, conditions, points, performance };
  } catch (error) {
    if (error instanceof RangeError) return none(error.message);
    throw error;
  }
}

/** A figure of an airflow step against its limits. */
export function judgeAirflow(
  characteristic: Characteristic,
  result: AirflowResult | Undetermined,
): CharacteristicResult {
  if ("kind" in result) return notMeasured(characteristic, result.why);
  const figure = figureOf(characteristic, result);
  if (!figure) return notMeasured(characteristic, NOT_REACHED);
  if ("kind" in figure) return notMeasured(characteristic, figure.why);
  const judgement = judged(characteristic, figure.value, figure.uncertainty, figure.budget);
  if (judgement.verdict !== "pass") return judgement;
  const doubt = figureTooVague(characteristic, figure.value, figure.uncertainty);
  return doubt ? { ...judgement, ...doubt } : judgement;
}

/** From a value this vague, and this near to its limit, nothing follows: parts of the limit, and uncertainties. */
const TOO_VAGUE = { part: 1 / 6, near: 3 };

/**
 * Guarded acceptance has looked at the uncertainty already.
 * @returns of a figure that would pass: why it is void all the same; null where it is not
 */
export function figureTooVague(
  { lower, upper, rule }: Pick<Characteristic, "lower" | "upper" | "rule">,
  value: number,
  uncertainty: number,
) {
  if (rule.kind !== "simple") return null;
  const isVague = (limit: number | undefined) =>
    limit !== undefined &&
    uncertainty > TOO_VAGUE.part * limit &&
    Math.abs(value - limit) < TOO_VAGUE.near * uncertainty;
  if (!isVague(lower) && !isVague(upper)) return null;
  const why = "its uncertainty is more than a sixth of the limit, too much to pass a unit by so near to it";
  return { verdict: "void" as const, why, conformance: null };
}

function figureOf(
  { measurand, point: name }: Characteristic,
  { step, performance: { points, curve } }: AirflowResult,
): Measured | Undetermined | undefined {
  const point = points.find((candidate) => candidate.point === name);
  switch (measurand) {
    case "suction":
      return point?.suction;
    case "flow":
      return point?.flow;
    case "power":
      return point?.power;
    case "suction_power":
      return point?.suctionPower;
    case "efficiency":
      return point?.efficiency;
    case "leak_rate":
      return undefined;
  }
  // A curve through some of its points would be another one.
  if (points.length < step.points.length) return undefined;
  if (curve.kind === "none") return curve;
  switch (measurand) {
    case "largest_suction_power":
      return curve.largestSuctionPower;
    case "suction_at_zero_flow":
      return curve.suctionAtZeroFlow;
    case "flow_at_zero_suction":
      return curve.flowAtZeroSuction;
  }
}

/** @returns null where the station file does not say how well the room's air is known */
export function airflowConditions(
  step: AirflowStep,
  ambient: Pick<Ambient, "temperature_K" | "pressure_Pa" | "relativeHumidity">,
  { channels, flowFrom }: StationKnowledge,
): AirflowConditions | null {
  const thermometer = channels.get("ambient_temperature");
  const barometer = channels.get("ambient_pressure");
  const hygrometer = channels.get("ambient_humidity");
  if (!thermometer || !barometer || !hygrometer) return null;
  return {
    room: {
      temperature_K: ambient.temperature_K,
      // The part of a reading counts from 0 degC, as thermometers read; from 0 K it would be a tenth of a kelvin and more.
      temperatureUncertainty_K: Math.hypot(
        thermometer.absolute,
        thermometer.relative * (ambient.temperature_K - 273.15),
      ),
      pressure_Pa: ambient.pressure_Pa,
      pressureUncertainty_Pa: Math.hypot(barometer.absolute, barometer.relative * ambient.pressure_Pa),
      relativeHumidity: ambient.relativeHumidity,
      relativeHumidityUncertainty: Math.hypot(
        hygrometer.absolute,
        hygrometer.relative * ambient.relativeHumidity,
      ),
    },
    channels,
    flowFrom,
    supplyVoltage_V: step.supplyVoltage_V,
    correction: step.correction,
  };
}

function meansOf({ point, orifice, samples }: AirflowEvidence & { readonly orifice: string }): PointMeans {
  const meanOf = ({ t_s, values }: ChannelSamples): MeanReading => settledMean(t_s, values, samples.since_s);
  return {
    point,
    orifice,
    suction_Pa: meanOf(samples.suction_Pa),
    power_W: meanOf(samples.power_W),
    voltage_V: meanOf(samples.voltage_V),
    flow_m3_s: samples.flow_m3_s.values.length > 0 ? meanOf(samples.flow_m3_s) : null,
    drop_Pa: samples.drop_Pa.values.length > 0 ? meanOf(samples.drop_Pa) : null,
  };
}

function none(why: string): Undetermined {
  return { kind: "none", why };
}
