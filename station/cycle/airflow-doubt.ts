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

/** A change of orifice is expected to show when the flow changes by this part of the largest. */
const SHOWS = 0.02;

type Means = AirflowResult["points"][number]["means"];
type Point = AirflowResult["performance"]["points"][number] & { readonly means: Means };

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
  const points = result.performance.points.flatMap((point, i) => {
    const means = result.points[i]?.means;
    return means ? [{ ...point, means }] : [];
  });
  const { pressure_Pa } = result.conditions.room;
  const [first] = [
    ...points.map((point) => beyondVacuum(point, pressure_Pa)),
    ...points.map(moreOutThanIn),
    ...points.map((point) => otherFlow(point, openings.get(point.means.orifice), result)),
    ...points.map((point, i) => noChange(points[i - 1], point, { openings, result })),
    riseOfSuction(points, result, characteristics),
  ].filter((sentence) => sentence !== null);
  return first === undefined ? null : { code: "NOT_TRUSTED", sentence: `${first} ${LOOK_AT}` };
}

const LOOK_AT =
  "Look whether the station's shutters move, and compare orifices, hoses and gauges with the station file, then test the unit again.";

function beyondVacuum({ point, asMeasured }: Point, pressure_Pa: number): string | null {
  if (asMeasured.suction_Pa < pressure_Pa) return null;
  return `At ${point} the suction is read as more than the room's pressure, a vacuum and more.`;
}

function moreOutThanIn({ point, efficiency }: Point): string | null {
  if ("kind" in efficiency || efficiency.value - 2 * efficiency.uncertainty <= 1) return null;
  return `At ${point} more suction power comes out than input power goes in.`;
}

/** A flow that was measured, against what flows through the orifice at this suction. */
function otherFlow(
  { point, asMeasured, flow, means }: Point,
  opening: MeasuringOrifice | null | undefined,
  result: AirflowResult,
): string | null {
  const { conditions } = result;
  if (opening === undefined || conditions.flowFrom.kind === "plenum") return null;
  const { flow_m3_s, suction_Pa } = asMeasured;
  if (opening === null) {
    if (flow_m3_s > SURE * flow.uncertainty)
      return `At ${point} ${litres(flow_m3_s)} L/s flow, although the inlet is closed there.`;
    return hasDrop(means, conditions)
      ? `At ${point} there is a pressure drop over the plate, although the inlet is closed there.`
      : null;
  }
  const through_m3_s = throughOpening(opening, suction_Pa, result);
  if (through_m3_s === null) return null;
  const gauge = conditions.channels.get("suction");
  // Flow goes with the root of suction, which is small at a wide orifice.
  const fromSuction =
    Math.abs(suction_Pa) > 0 ? (through_m3_s * (gauge?.absolute ?? 0)) / (2 * Math.abs(suction_Pa)) : 0;
  const allowed = ORIFICE_MARGIN * Math.abs(through_m3_s) + SURE * Math.hypot(flow.uncertainty, fromSuction);
  if (Math.abs(flow_m3_s - through_m3_s) <= allowed) return null;
  return `At ${point} ${litres(flow_m3_s)} L/s flow, where ${litres(through_m3_s)} L/s go through its orifice at this suction.`;
}

/** The flow of a closed inlet counts as none; its drop says whether it was. */
function hasDrop({ drop_Pa }: Means, { channels }: AirflowResult["conditions"]): boolean {
  if (!drop_Pa) return false;
  const known = channels.get("flow_drop")?.absolute ?? 0;
  return drop_Pa.mean > SURE * Math.hypot(drop_Pa.uncertainty, known);
}

/** @returns m3/s that the orifice lets through at this suction; null at a suction that no room can make */
function throughOpening(
  opening: MeasuringOrifice,
  suction_Pa: number,
  { conditions, performance }: AirflowResult,
): number | null {
  const { temperature_K, pressure_Pa } = conditions.room;
  if (Math.abs(suction_Pa) >= pressure_Pa) return null;
  const density_kg_m3 = performance.air.density_kg_m3.value;
  return plenumFlow_m3_s(opening, suction_Pa, { temperature_K, pressure_Pa, density_kg_m3 });
}

function noChange(
  before: Point | undefined,
  now: Point,
  { openings, result }: { readonly openings: StationKnowledge["openings"]; readonly result: AirflowResult },
): string | null {
  if (!before || before.means.orifice === now.means.orifice) return null;
  const [then_Pa, now_Pa] = [before.asMeasured.suction_Pa, now.asMeasured.suction_Pa];
  const scatter_Pa = Math.hypot(before.means.suction_Pa.uncertainty, now.means.suction_Pa.uncertainty);
  const same_Pa = Math.max(SAME.scatters * scatter_Pa, SAME.part * Math.max(then_Pa, now_Pa));
  if (Math.min(then_Pa, now_Pa) < SUCTION_MADE_Pa || Math.abs(then_Pa - now_Pa) > same_Pa) return null;
  if (hasFlowChanged(before, now, result)) return null;
  const [opening, other] = [openings.get(now.means.orifice), openings.get(before.means.orifice)];
  if (opening !== undefined && other !== undefined && !shouldShow(opening, other, now_Pa, result))
    return null;
  return `The suction at ${now.point} is the same as at ${before.point}: the orifice has not changed.`;
}

/** Whether a gauge saw another flow. */
function hasFlowChanged(before: Point, now: Point, { conditions }: AirflowResult): boolean {
  if (conditions.flowFrom.kind === "plenum") return false;
  const uncertainty = Math.hypot(before.flow.uncertainty, now.flow.uncertainty);
  return Math.abs(now.asMeasured.flow_m3_s - before.asMeasured.flow_m3_s) > SURE * uncertainty;
}

/** Whether two orifices differ by enough flow for a fan to show it: beside a pinhole a closed inlet looks alike. */
function shouldShow(
  one: MeasuringOrifice | null,
  other: MeasuringOrifice | null,
  suction_Pa: number,
  result: AirflowResult,
): boolean {
  const through = (opening: MeasuringOrifice | null) =>
    opening ? (throughOpening(opening, suction_Pa, result) ?? 0) : 0;
  const largest = Math.max(...result.performance.points.map(({ asMeasured }) => asMeasured.flow_m3_s));
  return Math.abs(through(one) - through(other)) > SHOWS * largest;
}

function riseOfSuction(
  points: readonly Point[],
  { step, conditions, performance: { curve } }: AirflowResult,
  characteristics: readonly Characteristic[],
): string | null {
  if (curve.kind !== "none" || !curve.isContradiction) return null;
  const isJudged = characteristics.some((it) => it.step === step.name && isCurveMeasurand(it.measurand));
  // Where flow is worked out from suction, it is not the fan that can be odd.
  if (!isJudged && conditions.flowFrom.kind !== "plenum") return null;
  const isSure = points.some((more) =>
    points.some(
      (less) =>
        more.flow.value - less.flow.value > SURE * Math.hypot(more.flow.uncertainty, less.flow.uncertainty) &&
        more.suction.value >= less.suction.value,
    ),
  );
  return isSure ? curve.why : null;
}

function litres(flow_m3_s: number): string {
  return formatNumber(flow_m3_s * 1000, { significant: 3 });
}
