import type { AirflowStep, Characteristic } from "../../../limits/model.ts";
import { moistAir } from "../air/moist-air.ts";
import type { Measured } from "../fit/propagation.ts";
import type { AirflowConditions, MeanReading, MeasuringOrifice, PointMeans } from "./airflow-evidence.ts";
import { type DrawnAir, pipeFlow_m3_s, plenumFlow_m3_s } from "./flow-at-point.ts";
import { measureAirflow, type PointPerformance } from "./performance.ts";

/** What suction and flow a body just at its limits has at a point; null where no limit and no orifice tells. */
interface PointAtLimits {
  readonly suction_Pa: number | null;
  readonly flow_m3_s: number | null;
  readonly power_W: number;
}

/** A typical point of an unknown one: the figures it would distort are not told. */
const SOME_SUCTION_Pa = 10_000;
const SOME_FLOW_m3_s = 0.03;
/** `known_within` is an expanded uncertainty (k = 2) of the scatter. */
const COVERAGE_FACTOR = 2;

/**
 * How uncertain an airflow step's figures will be, before any unit was tested: of a body just at its limits, measured by the
 * step's points as a unit's would be, its scatter as large as `known_within` allows.
 * @param openings what each orifice lets air through; null for a closed inlet, absent where that is not known
 * @returns a characteristic's relative standard uncertainty; null where its points follow from no limit and no orifice
 * @throws RangeError, one sentence, where a channel's uncertainty is missing
 */
export function foreseeAirflow(
  step: AirflowStep,
  characteristics: readonly Characteristic[],
  conditions: AirflowConditions,
  openings: ReadonlyMap<string, MeasuringOrifice | null>,
): (characteristic: Characteristic) => number | null {
  const air = roomAir(conditions);
  const atLimits = step.points.map((point) => pointAtLimits(point, step, characteristics, openings, air));
  const means = step.points.map((point, i): PointMeans => {
    const { suction_Pa, flow_m3_s, power_W } = atLimits[i] as PointAtLimits;
    const reading = (mean: number): MeanReading => ({
      mean,
      uncertainty: (point.knownWithin * mean) / COVERAGE_FACTOR,
    });
    const flow = flow_m3_s ?? SOME_FLOW_m3_s;
    return {
      point: point.name,
      orifice: point.orifice,
      suction_Pa: reading(suction_Pa ?? SOME_SUCTION_Pa),
      power_W: reading(power_W),
      voltage_V: { mean: step.supplyVoltage_V, uncertainty: 0 },
      flow_m3_s: reading(flow),
      drop_Pa: reading(platesDrop_Pa(flow, conditions, air)),
    };
  });
  const { points, curve } = measureAirflow(means, conditions);
  const areAllKnown = atLimits.every((point) => point.suction_Pa !== null && point.flow_m3_s !== null);
  return (characteristic) => {
    const index = step.points.findIndex(({ name }) => name === characteristic.point);
    const [point, known] = [points[index], atLimits[index]];
    if (!point || !known) {
      if (!areAllKnown || curve.kind === "none") return null;
      const { largestSuctionPower, suctionAtZeroFlow, flowAtZeroSuction } = curve;
      switch (characteristic.measurand) {
        case "largest_suction_power":
          return relative(largestSuctionPower);
        case "suction_at_zero_flow":
          return relative(suctionAtZeroFlow);
        case "flow_at_zero_suction":
          return relative(flowAtZeroSuction);
        default:
          return null;
      }
    }
    return ofPoint(characteristic, point, known);
  };
}

function ofPoint(
  { measurand }: Characteristic,
  { suction, flow, power, suctionPower, efficiency }: PointPerformance,
  known: PointAtLimits,
): number | null {
  const isKnown = known.suction_Pa !== null && known.flow_m3_s !== null;
  switch (measurand) {
    case "suction":
      return known.suction_Pa === null ? null : relative(suction);
    case "flow":
      return known.flow_m3_s === null ? null : relative(flow);
    case "power":
      return relative(power);
    case "suction_power":
      return isKnown ? relative(suctionPower) : null;
    case "efficiency":
      return isKnown ? relative(efficiency) : null;
    default:
      return null;
  }
}

function relative(figure: Measured | { readonly kind: "none" }): number | null {
  if ("kind" in figure || !(figure.value > 0)) return null;
  return figure.uncertainty / figure.value;
}

function pointAtLimits(
  { name, orifice }: AirflowStep["points"][number],
  step: AirflowStep,
  characteristics: readonly Characteristic[],
  openings: ReadonlyMap<string, MeasuringOrifice | null>,
  air: DrawnAir,
): PointAtLimits {
  const own = characteristics.filter((it) => it.step === step.name);
  const limitOf = (measurand: Characteristic["measurand"], point: string | null = name) => {
    const found = own.find((it) => it.measurand === measurand && (point === null || it.point === point));
    return found?.lower ?? found?.upper ?? null;
  };
  const opening = openings.get(orifice);
  const power_W = limitOf("power") ?? limitOf("power", null) ?? step.powerHighest_W;
  if (opening === null) return { suction_Pa: limitOf("suction"), flow_m3_s: 0, power_W };
  const through = opening && ((drop_Pa: number) => plenumFlow_m3_s(sizeOf(opening), drop_Pa, air));
  const stated = { suction_Pa: limitOf("suction"), flow_m3_s: limitOf("flow") };
  const suctionPower_W = limitOf("suction_power");
  const suction_Pa =
    stated.suction_Pa ??
    (stated.flow_m3_s !== null && through ? dropOf(stated.flow_m3_s, through, air) : null) ??
    (stated.flow_m3_s && suctionPower_W !== null ? suctionPower_W / stated.flow_m3_s : null) ??
    (suctionPower_W !== null && through
      ? dropOf(suctionPower_W, (drop_Pa) => drop_Pa * through(drop_Pa), air)
      : null);
  const flow_m3_s =
    stated.flow_m3_s ??
    (suction_Pa !== null && through ? through(suction_Pa) : null) ??
    (suction_Pa && suctionPower_W !== null ? suctionPower_W / suction_Pa : null);
  return { suction_Pa, flow_m3_s, power_W };
}

function sizeOf({ bore_m, coefficient }: MeasuringOrifice) {
  return { bore_m, coefficient };
}

/** @returns the drop at which something that grows with it has this value, no more than half the room's pressure */
function dropOf(value: number, of: (drop_Pa: number) => number, { pressure_Pa }: DrawnAir): number {
  let [below_Pa, above_Pa] = [0, pressure_Pa / 2];
  for (let halving = 0; halving < 50; halving++) {
    const middle_Pa = (below_Pa + above_Pa) / 2;
    if (of(middle_Pa) < value) below_Pa = middle_Pa;
    else above_Pa = middle_Pa;
  }
  return (below_Pa + above_Pa) / 2;
}

function platesDrop_Pa(flow_m3_s: number, { flowFrom }: AirflowConditions, air: DrawnAir): number {
  if (flowFrom.kind !== "pipe" || flow_m3_s === 0) return 0;
  const { plate } = flowFrom;
  return dropOf(
    flow_m3_s,
    (drop_Pa) => pipeFlow_m3_s(plate, plate.coefficient?.value ?? null, drop_Pa, air),
    air,
  );
}

function roomAir({ room }: AirflowConditions): DrawnAir {
  const { temperature_K, pressure_Pa, relativeHumidity } = room;
  const { density_kg_m3 } = moistAir({ temperature_K, pressure_Pa, relativeHumidity });
  return { temperature_K, pressure_Pa, density_kg_m3 };
}
