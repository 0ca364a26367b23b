import { formatNumber } from "../../limits/print-quantity.ts";
import type { DocumentBlock, DocumentTable } from "./page-document.ts";
import { plantTime } from "./plant-time.ts";
import { percentText } from "./share-text.ts";
import { binText, histogramChart, histogramOf } from "./value-histogram.ts";
import { trendOf } from "./value-trend.ts";
import type { MeasuredSeries } from "./yield-detail.ts";

/** A quantity's figures, how its values are spread, and how they went through the days. */
export function valueBlocks(measured: readonly MeasuredSeries[], zone: string): DocumentBlock[] {
  if (measured.length === 0) return [];
  return [
    { kind: "table", table: figuresTable(measured) },
    ...measured.flatMap((series) => seriesBlocks(series, zone)),
  ];
}

function seriesBlocks(series: MeasuredSeries, zone: string): DocumentBlock[] {
  const { model, characteristic, withoutValue, limitsChanged, conformance } = series;
  const subject = `${characteristic} of ${model}`;
  const bins = histogramOf(series);
  const trend = trendOf(series);
  const notes = [
    ...(withoutValue > 0
      ? [
          `${withoutValue} inspected ${withoutValue === 1 ? "unit has" : "units have"} no ${subject}: too large to be measured, or its step was not gone through.`,
        ]
      : []),
    ...(limitsChanged ? [`The limits of ${subject} changed in these days; drawn are the newest.`] : []),
    ...(conformance === null
      ? []
      : [
          `${subject} passes only with a probability of conformance of ${percentText(conformance)} or more: the hatched guard band is drawn at the median measurement uncertainty.`,
        ]),
    ...(typeof trend === "string" ? [trend] : trend.notes),
  ];
  return [
    ...(bins.length === 0
      ? []
      : [
          { kind: "chart" as const, chart: histogramChart(series, bins) },
          {
            kind: "table" as const,
            table: {
              caption: `Units by ${subject}`,
              columns: [
                { heading: `${characteristic}, ${series.unit}`, kind: "text" as const },
                { heading: "passed", kind: "number" as const },
                { heading: "failed", kind: "number" as const },
              ],
              rows: bins.map((bin) => [binText(bin), String(bin.passed), String(bin.failed)]),
              isFolded: true as const,
            },
          },
        ]),
    ...(typeof trend === "string"
      ? []
      : [
          { kind: "chart" as const, chart: trend.chart },
          {
            kind: "table" as const,
            table: {
              caption: `Points of the control chart of ${subject}`,
              columns: [
                { heading: "point", kind: "number" as const },
                { heading: "first unit", kind: "text" as const },
                { heading: "inspected", kind: "text" as const },
                { heading: "units", kind: "number" as const },
                { heading: `mean, ${series.unit}`, kind: "number" as const },
                { heading: "out of the ordinary", kind: "text" as const },
              ],
              rows: trend.points.map(({ serial, at_ms, units, value, isOutside }, k) => [
                String(trend.control.first + k),
                serial,
                plantTime(at_ms, zone),
                String(units),
                formatNumber(value, { significant: 5 }),
                isOutside ? "yes" : "",
              ]),
              isFolded: true as const,
            },
          },
        ]),
    ...(notes.length > 0 ? [{ kind: "list" as const, items: notes }] : []),
  ];
}

function figuresTable(measured: readonly MeasuredSeries[]): DocumentTable {
  const number = (heading: string) => ({ heading, kind: "number" as const });
  const text = (value: number | null) => (value === null ? "" : formatNumber(value, { significant: 4 }));
  return {
    caption: "Values at first inspection, units that failed among them",
    columns: [
      { heading: "quantity", kind: "text" },
      { heading: "unit", kind: "text" },
      number("units"),
      number("least"),
      number("median"),
      number("95 % below"),
      number("greatest"),
      number("lower limit"),
      number("upper limit"),
      number("accepted from"),
      number("accepted to"),
    ],
    rows: measured.map((series) => {
      const { model, characteristic, unit, values, lower, upper, acceptedFrom, acceptedTo } = series;
      const sorted = Float64Array.from(values).sort();
      const at = (part: number) => (sorted.length === 0 ? null : quantile(sorted, part));
      return [
        `${characteristic} of ${model}`,
        unit,
        String(values.length),
        text(at(0)),
        text(at(0.5)),
        text(at(0.95)),
        text(at(1)),
        text(lower),
        text(upper),
        text(acceptedFrom),
        text(acceptedTo),
      ];
    }),
  };
}

/**
 * @param sorted ascending, one at least
 * @see Hyndman and Fan 1996, The American Statistician 50(4), 361-365, definition 7 (from memory)
 * @example quantile([1, 2, 3, 4], 0.5) // 2.5
 */
function quantile(sorted: Float64Array, part: number): number {
  const place = part * (sorted.length - 1);
  const below = sorted[Math.floor(place)] ?? 0;
  const above = sorted[Math.ceil(place)] ?? below;
  return below + (place - Math.floor(place)) * (above - below);
}
