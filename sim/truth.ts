import { isCurveMeasurand } from "../limits/measurand.ts";
import type { AirflowStep, Characteristic, ModelLimits, Step } from "../limits/model.ts";
import { bodyDesign } from "./bodies.ts";
import { airflowAt, type Conditions, STANDARD_CONDITIONS } from "./plant/airflow.ts";
import { airflowCurve } from "./plant/airflow-curve.ts";
import { MotorRun } from "./plant/fan.ts";
import { leakRate_m3_s } from "./plant/leak-path.ts";
import { DEMO_ORIFICES, openArea_m2 } from "./plant/shutters.ts";
import type { SimulatedUnit } from "./population.ts";

/** What a perfect station would find: at reference air, the step's supply voltage, exactly the test pressure. */
export interface Truth {
  /** m3/s at the house reference, at the model's leak test pressure. */
  readonly leak_m3_s: number;
  readonly points: readonly TruePoint[];
  /** Every characteristic with its true value, in SI. */
  readonly characteristics: readonly {
    readonly name: string;
    readonly value: number;
    readonly conforms: boolean;
  }[];
  /** True values all within their limits, whatever the decision rule, and the motor up to speed in time. */
  readonly conforms: boolean;
}

interface TruePoint {
  readonly step: string;
  readonly name: string;
  readonly suction_Pa: number;
  readonly flow_m3_s: number;
  readonly power_W: number;
}

/**
 * @param orifices orifice names of the station file, each with the shutter that gives it
 * @throws Error when the limits name an orifice that the plant does not have
 */
export function truthOf(
  unit: SimulatedUnit,
  limits: ModelLimits,
  orifices: Readonly<Record<string, string | null>> = DEMO_ORIFICES,
): Truth {
  const leakOfStep = new Map<string, number>();
  const points: TruePoint[] = [];
  for (const step of limits.steps) {
    if (step.kind === "leak")
      leakOfStep.set(step.name, leakRate_m3_s(unit.body.leakPaths, step.testPressure_Pa));
    else points.push(...truePoints(unit, step, orifices));
  }
  const [firstLeak] = leakOfStep.values();
  const characteristics = limits.characteristics.map((characteristic) => {
    const value =
      characteristic.measurand === "leak_rate"
        ? (leakOfStep.get(characteristic.step) ?? Number.NaN)
        : airflowValue(characteristic, unit, limits.steps, points);
    const { lower = Number.NEGATIVE_INFINITY, upper = Number.POSITIVE_INFINITY } = characteristic;
    return { name: characteristic.name, value, conforms: value >= lower && value <= upper };
  });
  return {
    leak_m3_s: firstLeak ?? leakRate_m3_s(unit.body.leakPaths, bodyDesign(unit.model).leakPressure_Pa),
    points,
    characteristics,
    conforms:
      characteristics.every((characteristic) => characteristic.conforms) &&
      limits.steps.every((step) => step.kind === "leak" || comesUpInTime(unit, step)),
  };
}

function truePoints(
  unit: SimulatedUnit,
  step: AirflowStep,
  orifices: Readonly<Record<string, string | null>>,
): TruePoint[] {
  return step.points.map((point) => {
    const shutter = orifices[point.orifice];
    if (shutter === undefined)
      throw new Error(`The simulated plenum has no orifice called ${point.orifice}.`);
    const area_m2 = shutter === null ? 0 : openArea_m2([shutter]);
    return { step: step.name, name: point.name, ...airflowAt(unit.cleaner, area_m2, conditionsOf(step)) };
  });
}

/** Whether at the end of the longest run-up the suction, which goes as speed squared, has hardly anywhere to go. */
function comesUpInTime({ cleaner }: SimulatedUnit, { runUpLongest_s, steady }: AirflowStep): boolean {
  const run = new MotorRun(cleaner.runUpFactor);
  run.switch(0, true);
  const gain = run.speedAt(runUpLongest_s + steady.ahead_s) / run.speedAt(runUpLongest_s);
  return gain * gain - 1 <= steady.within;
}

/** Standard air at the voltage the step's results are stated at. */
function conditionsOf(step: AirflowStep): Conditions {
  return { ...STANDARD_CONDITIONS, mains_V: step.supplyVoltage_V };
}

function airflowValue(
  { measurand, step: stepName, point: pointName }: Characteristic,
  unit: SimulatedUnit,
  steps: readonly Step[],
  points: readonly TruePoint[],
): number {
  if (isCurveMeasurand(measurand)) {
    const step = steps.find((candidate) => candidate.name === stepName);
    if (step?.kind !== "airflow") return Number.NaN;
    const curve = airflowCurve(unit.cleaner, conditionsOf(step));
    if (measurand === "suction_at_zero_flow") return curve.suctionAtZeroFlow_Pa;
    return measurand === "flow_at_zero_suction" ? curve.flowAtZeroSuction_m3_s : curve.largestSuctionPower_W;
  }
  const point = points.find(({ step, name }) => step === stepName && name === pointName);
  if (!point) return Number.NaN;
  const suctionPower_W = point.suction_Pa * point.flow_m3_s;
  switch (measurand) {
    case "suction":
      return point.suction_Pa;
    case "flow":
      return point.flow_m3_s;
    case "power":
      return point.power_W;
    case "suction_power":
      return suctionPower_W;
    case "efficiency":
      // A motor that takes nothing gives nothing.
      return point.power_W > 0 ? suctionPower_W / point.power_W : 0;
    default:
      return Number.NaN;
  }
}
