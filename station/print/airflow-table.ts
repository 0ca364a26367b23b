import { formatMeasured, formatMeasuredQuantity, formatNumber } from "../../limits/print-quantity.ts";
import type { TravellerAirflow } from "../records/traveller-airflow.ts";

/** An airflow step's points, for people. */
export interface AirflowTable {
  readonly heading: string;
  readonly head: readonly string[];
  readonly rows: readonly (readonly string[])[];
  readonly notes: readonly string[];
}

const HEAD = ["point", "suction, kPa", "flow, L/s", "power, W", "suction power, W", "efficiency, %"];

/** In kilopascals, litres a second, watts and per cent, each with its expanded uncertainty (k = 2). */
export function airflowTable({ step, stated_at, points, curve }: TravellerAirflow): AirflowTable {
  const at = stated_at
    ? `at ${stated_at.density_kg_m3.toFixed(2)} kg/m3 and ${formatNumber(stated_at.supply_voltage_V, { significant: 6 })} V`
    : "as measured";
  return {
    heading: `${step}, ${at}`,
    head: HEAD,
    rows: points.map((it) => [
      it.point,
      cell(it.suction_Pa, 1e-3),
      cell(it.flow_m3_s, 1e3),
      cell(it.power_W, 1),
      cell(it.suction_power_W, 1),
      it.efficiency ? cell(it.efficiency, 100) : "no value",
    ]),
    notes: [largestSuctionPower(curve)],
  };
}

function largestSuctionPower(curve: TravellerAirflow["curve"]): string {
  if (curve.kind === "none") return `no fan curve: ${curve.why}`;
  const { largest_suction_power_W: largest } = curve;
  if ("kind" in largest) return `largest suction power can't be told: ${largest.why}`;
  const { value, uncertainty, at_flow_m3_s, extrapolated } = largest;
  const power = formatMeasuredQuantity({ value, uncertainty: 2 * uncertainty }, "power", "W");
  const flow = formatNumber(1000 * at_flow_m3_s, { significant: 3 });
  return `largest suction power ${power} at ${flow} L/s${extrapolated ? ", beyond the tested points" : ""}`;
}

function cell({ value, uncertainty }: { value: number; uncertainty: number }, factor: number): string {
  const text = formatMeasured({ value: value * factor, uncertainty: 2 * uncertainty * factor });
  return text.uncertainty === undefined ? text.value : `${text.value} ± ${text.uncertainty}`;
}
