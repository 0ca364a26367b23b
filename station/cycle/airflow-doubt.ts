import { isCurveMeasurand } from "../../limits/measurand.ts";
import type { Characteristic } from "../../limits/model.ts";
import { formatNumber } from "../../limits/print-quantity.ts";
import type { MeasuringOrifice } from "../measure/airflow/airflow-evidence.ts";
import { plenumFlow_m3_s } from "../measure/airflow/flow-at-point.ts";
import type { AirflowResult } from "./airflow-judging.ts";
import type { StationKnowledge } from "./characteristic-result.ts";
import type { Reason } from "./reason.ts";

/** An orifice's coefficient may be off by so much before the flow through it is said to be another orifice's. */
const ORIFICE_MARGIN = 0.15;
/** So many standard uncertainties, and chance does not explain it. */
const SURE = 5;
/** Readings whose means lie closer than this many standard uncertainties of their scatter, or this part, are the same. */
const SAME = { scatters: 3, part: 0.005 };
/** Suction that a fan makes, and no draught does. */
const SUCTION_MADE_Pa = 100;

type Point = AirflowResult["performance"]["points"][number] & {
  readonly orifice: string;
  readonly scatter_Pa: number;
};

/**
 * What cannot be, whatever the unit is like: more suction power than input power, air through a closed inlet, a flow that the
 * orifice does not let through, an orifice that changes nothing, suction that rises with flow where that was judged. Then a
 * shutter, an orifice, a hose or a gauge is not as the station file says, and nothing of the step counts, for the unit or
 * against it.
 * @returns the first thing that cannot be, and where to look; null where nothing contradicts itself
 */
export function airflowDoubt(
  result: AirflowResult,
  characteristics: readonly Characteristic[],
  { openings }: Pick<StationKnowledge, "openings">,
): Reason | null {
  const points = result.performance.points.map((point, i) => ({
    ...point,
    orifice: result.points[i]?.means.orifice ?? "",
    scatter_Pa: result.points[i]?.means.suction_Pa.uncertainty ?? 0,
  }));
  const [first] = [
    ...points.map(moreOutThanIn),
    ...points.map((point) => otherFlow(point, openings.get(point.orifice), result)),
    ...points.map((point, i) => noChange(points[i - 1], point)),
    riseOfSuction(result, characteristics),
  ].filter((sentence) => sentence !== null);
  return first === undefined ? null : { code: "NOT_TRUSTED", sentence: `${first} ${LOOK_AT}` };
}

const LOOK_AT =
  "Look whether the station's shutters move, and compare orifices, hoses and gauges with the station file, then test the unit again.";

function moreOutThanIn({ point, efficiency }: Point): string | null {
  if ("kind" in efficiency || efficiency.value - 2 * efficiency.uncertainty <= 1) return null;
  return `At ${point} more suction power comes out than input power goes in.`;
}

/** A flow that was measured, against what flows through the orifice at this suction. */
function otherFlow(
  { point, asMeasured, flow }: Point,
  opening: MeasuringOrifice | null | undefined,
  { conditions, performance }: AirflowResult,
): string | null {
  if (opening === undefined || conditions.flowFrom.kind === "plenum") return null;
  const { flow_m3_s, suction_Pa } = asMeasured;
  if (opening === null) {
    if (flow_m3_s <= SURE * flow.uncertainty) return null;
    return `At ${point} ${litres(flow_m3_s)} L/s flow, although the inlet is closed there.`;
  }
  const { temperature_K, pressure_Pa } = conditions.room;
  const air = { temperature_K, pressure_Pa, density_kg_m3: performance.air.density_kg_m3.value };
  const through_m3_s = plenumFlow_m3_s(opening, suction_Pa, air);
  const gauge = conditions.channels.get("suction");
  // Flow goes with the root of suction, which is small at a wide orifice.
  const fromSuction =
    Math.abs(suction_Pa) > 0 ? (through_m3_s * (gauge?.absolute ?? 0)) / (2 * Math.abs(suction_Pa)) : 0;
  const allowed = ORIFICE_MARGIN * Math.abs(through_m3_s) + SURE * Math.hypot(flow.uncertainty, fromSuction);
  if (Math.abs(flow_m3_s - through_m3_s) <= allowed) return null;
  return `At ${point} ${litres(flow_m3_s)} L/s flow, where ${litres(through_m3_s)} L/s go through its orifice at this suction.`;
}

function noChange(
  before: Point | undefined,
  { point, orifice, asMeasured, scatter_Pa }: Point,
): string | null {
  if (!before || before.orifice === orifice) return null;
  const [then_Pa, now_Pa] = [before.asMeasured.suction_Pa, asMeasured.suction_Pa];
  const same_Pa = Math.max(
    SAME.scatters * Math.hypot(before.scatter_Pa, scatter_Pa),
    SAME.part * Math.max(then_Pa, now_Pa),
  );
  if (Math.min(then_Pa, now_Pa) < SUCTION_MADE_Pa || Math.abs(then_Pa - now_Pa) > same_Pa) return null;
  return `The suction at ${point} is the same as at ${before.point}: the orifice has not changed.`;
}

function riseOfSuction(
  { step, conditions, performance: { curve } }: AirflowResult,
  characteristics: readonly Characteristic[],
): string | null {
  if (curve.kind !== "none" || !curve.isContradiction) return null;
  const isJudged = characteristics.some((it) => it.step === step.name && isCurveMeasurand(it.measurand));
  // Where flow is worked out from suction, it is not the fan that can be odd.
  return isJudged || conditions.flowFrom.kind === "plenum" ? curve.why : null;
}

function litres(flow_m3_s: number): string {
  return formatNumber(flow_m3_s * 1000, { significant: 3 });
}
