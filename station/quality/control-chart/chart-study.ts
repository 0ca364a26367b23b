import { checkMagnitude } from "../sample.ts";
import { attributeChart, type CountedSample } from "./attributes.ts";
import type { ChartedProcess, ChartOptions } from "./control-chart.ts";
import { type CusumOptions, cusumChart } from "./cusum.ts";
import { type EwmaChartOptions, ewmaChart } from "./ewma-chart.ts";
import { individualsChart } from "./individuals.ts";
import type { RunRule } from "./run-rules.ts";
import { type Subgroup, subgroupChart } from "./subgroups.ts";

export type ChartKind = "individuals" | "xbar-r" | "xbar-s" | "ewma" | "cusum" | "p" | "u";

/** What is to be drawn, in the order of its making. */
export type ChartData =
  | { readonly kind: "individuals" | "ewma" | "cusum"; readonly values: readonly number[] }
  | { readonly kind: "xbar-r" | "xbar-s"; readonly subgroups: readonly Subgroup[] }
  | { readonly kind: "p" | "u"; readonly samples: readonly CountedSample[] };

/** All kinds' options; each kind takes its own. */
export type AnyChartOptions = ChartOptions &
  Pick<EwmaChartOptions, "lambda" | "steadyLimits"> &
  Pick<CusumOptions, "allowance" | "decision" | "reset"> & {
    readonly rules?: readonly RunRule[] | undefined;
  };

/**
 * Control charts of some values.
 * @throws NoStudy where the data can't give the chart
 */
export function chartedProcess(data: ChartData, options: AnyChartOptions): ChartedProcess {
  if ("values" in data) checkMagnitude(data.values);
  if ("subgroups" in data) checkMagnitude(data.subgroups.flatMap(({ values }) => values));
  switch (data.kind) {
    case "individuals":
      return individualsChart(data.values, options);
    case "ewma":
      return ewmaChart(data.values, options);
    case "cusum":
      return cusumChart(data.values, options);
    case "xbar-r":
      return subgroupChart(data.subgroups, { ...options, by: "range" });
    case "xbar-s":
      return subgroupChart(data.subgroups, { ...options, by: "standard deviation" });
    default:
      return attributeChart(data.samples, { ...options, kind: data.kind });
  }
}
