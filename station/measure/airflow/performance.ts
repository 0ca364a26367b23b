import { type Measured, propagate } from "../fit/propagation.ts";
import type { AirflowConditions, PointMeans } from "./airflow-evidence.ts";
import { airflowModel, type PointState } from "./airflow-model.ts";
import { type FanCurve, fanCurve, type Undetermined } from "./fan-curve.ts";

/** One point with its uncertainties, at standard conditions where `corrected`. */
export interface PointPerformance {
  readonly point: string;
  readonly asMeasured: PointState["asMeasured"];
  readonly suction: Measured;
  readonly flow: Measured;
  readonly power: Measured;
  readonly suctionPower: Measured;
  /** Suction power over input power; none where there is no input power to speak of. */
  readonly efficiency: Measured | Undetermined;
}

export interface AirflowPerformance {
  readonly air: { readonly density_kg_m3: Measured };
  /** At 1.20 kg/m3 and the supply voltage; else as measured. */
  readonly corrected: boolean;
  readonly points: readonly PointPerformance[];
  readonly curve: FanCurve | Undetermined;
}

/** What a point has: suction, flow, input power, suction power, efficiency. */
const FIGURES_PER_POINT = 5;
/** Input power is there when it is this many standard uncertainties above none. */
const POWER_ABOVE_NONE = 2;

/**
 * Performance of a suction cleaner from the means of its points. Suction power P2 = q h, q the flow at the room's density, h
 * the suction at the plenum; efficiency P2 / P1, which no correction changes. Suction, flow, power and suction power are
 * brought to 1.20 kg/m3 and the supply voltage where the conditions have a correction.
 *
 * Uncertainties are the GUM's, through the whole calculation at once: what the points share moves them together.
 * @throws RangeError, one sentence, where an input is missing or not finite
 * @example // 12 kPa at 22.5 dm3/s with 720 W, as measured: suction power 270 W, efficiency 37.5 %
 * @see suction power and efficiency: IEC 62885-2 (from memory); uncertainty: JCGM 100:2008, 5.1.3 note 2
 */
export function measureAirflow(
  points: readonly PointMeans[],
  conditions: AirflowConditions,
): AirflowPerformance {
  const model = airflowModel(points, conditions);
  const [density, ...figures] = propagate(model.inputs, (x) => {
    const state = model.stateAt(x);
    return [state.density_kg_m3, ...state.points.flatMap(figuresOf)];
  });
  if (!density) throw new RangeError("The air's density could not be calculated.");
  const asMeasured = model.stateAt(model.inputs.map(({ estimate }) => estimate)).points;
  return {
    air: { density_kg_m3: density },
    corrected: conditions.correction !== null,
    points: asMeasured.map((state, i) => {
      const mine = figures.slice(i * FIGURES_PER_POINT, (i + 1) * FIGURES_PER_POINT);
      const [suction, flow, power, suctionPower, efficiency] = mine;
      if (!suction || !flow || !power || !suctionPower || !efficiency) {
        throw new RangeError("A figure of a point is missing.");
      }
      const hasPower = power.value > POWER_ABOVE_NONE * power.uncertainty;
      return {
        point: points[i]?.point ?? "",
        asMeasured: state.asMeasured,
        suction,
        flow,
        power,
        suctionPower,
        efficiency: hasPower
          ? efficiency
          : { kind: "none", why: "The motor takes no power: without input power there is no efficiency." },
      };
    }),
    curve: fanCurve(
      points.map(({ point }) => point),
      model,
    ),
  };
}

function figuresOf({ asMeasured, stated }: PointState): number[] {
  const { suction_Pa, flow_m3_s, power_W } = stated;
  // From what was measured: a correction cancels, and would leave its rounding in the budget.
  const efficiency = (asMeasured.suction_Pa * asMeasured.flow_m3_s) / asMeasured.power_W;
  return [suction_Pa, flow_m3_s, power_W, suction_Pa * flow_m3_s, efficiency];
}
