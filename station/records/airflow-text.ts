import { formatMeasured, formatMeasuredQuantity, formatNumber } from "../../limits/print-quantity.ts";
import type { Dimension } from "../../limits/quantity.ts";
import type { TravellerAirflow } from "./traveller-airflow.ts";

/** Value and standard uncertainty, SI. */
interface Result {
  readonly value: number;
  readonly uncertainty: number;
}
type Fitted = Exclude<TravellerAirflow["curve"], { kind: "none" }>;

/**
 * What an airflow step yielded, for people to read: where the numbers come from and what they are stated at, a table of
 * the points, the fan curve. Kilopascals, litres a second, watts, per cent; after each ± the expanded uncertainty, k = 2.
 */
export function airflowLines(airflow: TravellerAirflow): string[] {
  const { step, stated_at, points } = airflow;
  const at = stated_at
    ? `at ${stated_at.density_kg_m3.toFixed(2)} kg/m3 and ${plain(stated_at.supply_voltage_V)} V`
    : "as measured";
  const density = formatMeasured({
    value: airflow.air.density_kg_m3.value,
    uncertainty: 2 * airflow.air.density_kg_m3.uncertainty,
  });
  const spread = density.uncertainty === undefined ? "" : ` ± ${density.uncertainty}`;
  return [
    `${step}, ${at} (± is k = 2); the room's air ${density.value}${spread} kg/m3`,
    ...[flowFromText(airflow.flow_from), ...tableLines(points), ...curveLines(airflow.curve)].map(
      (line) => `  ${line}`,
    ),
  ];
}

const COLUMNS = ["suction, kPa", "flow, L/s", "power, W", "suction power, W", "efficiency, %"] as const;

function tableLines(points: TravellerAirflow["points"]): string[] {
  const rows = points.map((it) => [
    it.point,
    cell(it.suction_Pa, 1e-3),
    cell(it.flow_m3_s, 1e3),
    cell(it.power_W, 1),
    cell(it.suction_power_W, 1),
    it.efficiency ? cell(it.efficiency, 100) : "no value",
  ]);
  const table = [["point", ...COLUMNS], ...rows];
  const widths =
    table[0]?.map((_, column) => Math.max(...table.map((row) => row[column]?.length ?? 0))) ?? [];
  return table.map((row) =>
    row
      .map((text, column) => text.padEnd(widths[column] ?? 0))
      .join("  ")
      .trimEnd(),
  );
}

function curveLines(curve: TravellerAirflow["curve"]): string[] {
  if (curve.kind === "none") return [`no fan curve: ${curve.why}`];
  const { largest_suction_power_W: largest, suction_at_zero_flow_Pa, flow_at_zero_suction_m3_s } = curve;
  const at =
    "kind" in largest ? "" : ` at ${formatNumber(1000 * largest.at_flow_m3_s, { significant: 3 })} L/s`;
  return [
    `fan curve (${curve.kind}):`,
    `  largest suction power ${figureText(largest, "power", "W", at)}`,
    `  suction at zero flow ${figureText(suction_at_zero_flow_Pa, "pressure", "kPa")}`,
    `  flow at zero suction ${figureText(flow_at_zero_suction_m3_s, "flow", "L/s")}`,
    ...farthestPoint(curve),
  ];
}

function figureText(
  figure: Fitted["suction_at_zero_flow_Pa"],
  dimension: Dimension,
  unit: string,
  at = "",
): string {
  if ("kind" in figure) return `can't be told: ${figure.why}`;
  const { value, uncertainty, extrapolated } = figure;
  const text = formatMeasuredQuantity({ value, uncertainty: 2 * uncertainty }, dimension, unit);
  return `${text}${at}${extrapolated ? ", beyond the tested points" : ""}`;
}

/** How well the curve fits, by the point that fits worst; nothing where it goes through all of them. */
function farthestPoint({ tested, fit_probability }: Fitted): string[] {
  const [worst] = [...tested].sort((a, b) => Math.abs(b.residual_Pa) - Math.abs(a.residual_Pa));
  if (fit_probability === null || !worst) return [];
  const side = worst.residual_Pa < 0 ? "below" : "above";
  const [distance, uncertainty] = [Math.abs(worst.residual_Pa), 2 * worst.uncertainty_Pa].map((value_Pa) =>
    formatNumber(value_Pa / 1000, { significant: 2 }),
  );
  const chance = formatNumber(100 * fit_probability, { significant: 2 });
  return [
    `  ${worst.point} lies farthest from it: ${distance} kPa ${side}, the curve known there within ${uncertainty} kPa; chance of so bad a fit ${chance} %`,
  ];
}

function flowFromText(from: TravellerAirflow["flow_from"]): string {
  switch (from.kind) {
    case "gauge":
      return "flow from the flow gauge";
    case "plenum_orifices": {
      const orifices = from.orifices.map(({ orifice, opening }) =>
        opening
          ? `${orifice} ${millimetres(opening.bore_m)}, coefficient ${coefficientText(opening.coefficient, opening.coefficient_uncertainty)} (${calibratedText(opening.calibrated)})`
          : `${orifice} shut`,
      );
      return `flow from the suction over the orifices: ${orifices.join("; ")}`;
    }
    case "plate_in_pipe": {
      const { pipe_m, bore_m, taps, coefficient, calibrated } = from;
      const how = coefficient
        ? `coefficient ${coefficientText(coefficient.value, coefficient.uncertainty)} (${calibratedText(calibrated)})`
        : "coefficient by ISO 5167-2";
      return `flow from the drop over a plate of ${millimetres(bore_m)} in a pipe of ${millimetres(pipe_m)}, ${TAPS[taps]} taps, ${how}`;
    }
  }
}

const TAPS = { corner: "corner", flange: "flange", "d-d2": "D and D/2" } as const;

function calibratedText(date: string | null): string {
  return date === null ? "not calibrated" : `calibrated ${date}`;
}

function coefficientText(value: number, uncertainty: number): string {
  const text = formatMeasured({ value, uncertainty: 2 * uncertainty });
  return text.uncertainty === undefined ? text.value : `${text.value} ± ${text.uncertainty}`;
}

function millimetres(length_m: number): string {
  return `${plain(1000 * length_m)} mm`;
}

function cell({ value, uncertainty }: Result, factor: number): string {
  const text = formatMeasured({ value: value * factor, uncertainty: 2 * uncertainty * factor });
  return text.uncertainty === undefined ? text.value : `${text.value} ± ${text.uncertainty}`;
}

function plain(value: number): string {
  return formatNumber(value, { significant: 6 });
}
