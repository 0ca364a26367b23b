import { DIMENSION_OF } from "../../limits/measurand.ts";
import type { AirflowStep, LeakStep, ModelLimits } from "../../limits/model.ts";
import { formatNumber } from "../../limits/print-quantity.ts";
import { type Dimension, toUnit } from "../../limits/quantity.ts";
import type { UnitProgress } from "../cycle/unit-progress.ts";

/** One value that moves, in the unit people read it in. */
export interface LiveValue {
  readonly name: string;
  /** Null when there is no fresh reading. */
  readonly value: string | null;
  readonly unit: string;
  /** What it should come to, such as "target -8 kPa +- 0.2" or ">= 19.5". */
  readonly against: string;
}

interface Channel {
  readonly name: string;
  readonly dimension: Dimension;
  readonly unit: string;
  /** Finer than this is noise on a screen, SI. */
  readonly step: number;
}

const CHANNELS = {
  leak_pressure: { name: "pressure", dimension: "pressure", unit: "kPa", step: 10 },
  source_pressure: { name: "source", dimension: "pressure", unit: "kPa", step: 10 },
  suction: { name: "suction", dimension: "pressure", unit: "kPa", step: 10 },
  flow: { name: "flow", dimension: "flow", unit: "L/s", step: 1e-4 },
  power: { name: "power", dimension: "power", unit: "W", step: 1 },
  suction_power: { name: "suction power", dimension: "power", unit: "W", step: 1 },
} as const satisfies Readonly<Record<string, Channel>>;
type Shown = keyof typeof CHANNELS;

const AIRFLOW = ["suction", "flow", "power"] as const;

/**
 * @param readsFlow whether a flow gauge is there to be read: where the flow is calculated, none is missing
 * @returns the values that matter in this phase; the first with something to compare it with tells most
 */
export function liveValues(
  limits: ModelLimits,
  { phase, step, point }: UnitProgress,
  readings: Readonly<Record<string, number>>,
  readsFlow: boolean,
): readonly LiveValue[] {
  if (step?.kind === "leak") {
    if (phase === "rest") return [live("source_pressure", readings, "")];
    const pressure = live("leak_pressure", readings, leakTarget(step, phase));
    return phase === "fill" ? [pressure, live("source_pressure", readings, "")] : [pressure];
  }
  if (step?.kind === "airflow") {
    if (phase === "coast") {
      const stopped = `stopped below ${inUnit("power", step.stoppedBelow_W)} W`;
      return [live("power", readings, stopped), live("suction", readings, "")];
    }
    const at = (measurand: AirflowReading) => point && characteristic(limits, step, point.name, measurand);
    const values = AIRFLOW.filter((name) => readsFlow || name !== "flow").map((name) =>
      against(name, readings, at(name)),
    );
    const power = readsFlow ? at("suction_power") : null;
    return power ? [...values, against("suction_power", withSuctionPower(readings), power)] : values;
  }
  return phase === "safing" ? [live("leak_pressure", readings, ""), live("power", readings, "")] : [];
}

/**
 * @returns what the limits beside live values refer to and the readings do not, in one sentence; null where that is the same
 * @example judgedAt(step) // "As read; judged at 1.20 kg/m3 and 230 V."
 */
export function judgedAt(step: AirflowStep): string | null {
  if (!step.correction) return null;
  const voltage = formatNumber(step.supplyVoltage_V, { significant: 4 });
  return `As read; judged at 1.20 kg/m3 and ${voltage} V.`;
}

/** @returns how long the phase takes or may take, and whether it always takes that long; null outside the steps */
export function phaseLength({
  phase,
  step,
  point,
}: UnitProgress): { readonly longest_s: number; readonly isFixed: boolean } | null {
  if (step?.kind === "leak") {
    if (phase === "fill") return { longest_s: step.fillLongest_s, isFixed: false };
    if (phase === "settle") return { longest_s: step.settle_s, isFixed: true };
    if (phase === "measure") {
      return { longest_s: step.measureLongest_s, isFixed: step.earlyVerdict === null };
    }
    return phase === "vent" ? { longest_s: step.ventLongest_s, isFixed: false } : null;
  }
  if (step?.kind === "airflow") {
    if (phase === "run_up") return { longest_s: step.runUpLongest_s, isFixed: false };
    if (phase === "hold" && point) return { longest_s: point.holdLongest_s, isFixed: false };
    return phase === "coast" ? { longest_s: step.coastLongest_s, isFixed: false } : null;
  }
  return null;
}

/** @returns the limits in the characteristic's unit, such as "530 to 670" */
export function limitText({ lower, upper, measurand, unit }: ModelLimits["characteristics"][number]): string {
  const shown = (value_SI: number | undefined) =>
    value_SI === undefined ? undefined : toUnit(value_SI, DIMENSION_OF[measurand], unit);
  return limitRange(shown(lower), shown(upper));
}

/** @example limitRange(undefined, 25) // "<= 25" */
export function limitRange(lower: number | undefined, upper: number | undefined): string {
  if (lower !== undefined && upper !== undefined) return `${formatNumber(lower)} to ${formatNumber(upper)}`;
  if (lower !== undefined) return `>= ${formatNumber(lower)}`;
  return upper === undefined ? "" : `<= ${formatNumber(upper)}`;
}

type Limits = ModelLimits["characteristics"][number];
type AirflowReading = (typeof AIRFLOW)[number] | "suction_power";

function against(name: AirflowReading, readings: Readonly<Record<string, number>>, found?: Limits | null) {
  return live(name, readings, found ? limitText(found) : "", found?.unit);
}

/** P2 = q h, of the newest readings. */
function withSuctionPower(readings: Readonly<Record<string, number>>): Readonly<Record<string, number>> {
  const { suction, flow } = readings;
  return suction === undefined || flow === undefined ? {} : { suction_power: suction * flow };
}

function live(
  name: Shown,
  readings: Readonly<Record<string, number>>,
  against: string,
  unit?: string,
): LiveValue {
  const channel = CHANNELS[name];
  const shownUnit = unit ?? channel.unit;
  const value = readings[name];
  const step = Math.abs(
    toUnit(channel.step, channel.dimension, shownUnit) - toUnit(0, channel.dimension, shownUnit),
  );
  const decimals = Math.min(6, Math.max(0, -Math.floor(Math.log10(step) + 1e-9)));
  return {
    name: channel.name,
    value:
      value === undefined ? null : formatNumber(toUnit(value, channel.dimension, shownUnit), { decimals }),
    unit: shownUnit,
    against,
  };
}

function leakTarget(step: LeakStep, phase: UnitProgress["phase"]): string {
  const kPa = (value_Pa: number) => inUnit("leak_pressure", value_Pa);
  if (phase === "vent") return `vented within ${kPa(step.ventedWithin_Pa)} kPa`;
  // Shut off, the pressure goes where cooling and leak take it.
  if (phase !== "fill") return "";
  return `target ${kPa(step.testPressure_Pa)} +- ${kPa(step.fillTolerance_Pa)}`;
}

function inUnit(name: Shown, value_SI: number): string {
  const { dimension, unit } = CHANNELS[name];
  return formatNumber(toUnit(value_SI, dimension, unit));
}

function characteristic(limits: ModelLimits, step: AirflowStep, point: string, measurand: AirflowReading) {
  return limits.characteristics.find(
    (candidate) =>
      candidate.step === step.name && candidate.point === point && candidate.measurand === measurand,
  );
}
