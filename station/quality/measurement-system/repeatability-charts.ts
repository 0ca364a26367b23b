import type { StudyChart } from "../study-report.ts";
import { rangeChart } from "./average-and-range.ts";
import type { CrossedStudy } from "./crossed-study.ts";
import type { Component, Repeatability } from "./repeatability.ts";

/** Components of the spread, values by part and appraiser, ranges by appraiser. */
export function repeatabilityCharts(
  study: CrossedStudy,
  found: Repeatability,
  unit: string | undefined,
): StudyChart[] {
  return [componentChart(found), valueChart(study, unit), rangesChart(study, unit)];
}

function componentChart({ components }: Repeatability): StudyChart {
  const shown = [
    ["gauge R&R", components.GRR],
    ["repeatability", components.EV],
    ["appraiser", components.AV],
    ["part x appraiser", components.INT],
    ["part", components.PV],
  ].filter((entry): entry is [string, Component] => entry[1] !== null);
  const bars = (name: string, of: (component: Component) => number | null) => ({
    name,
    draw: "bars" as const,
    points: shown.flatMap(([, component], k) => {
      const value = of(component);
      return value === null ? [] : [[k, value] as const];
    }),
  });
  return {
    title: "Components of the spread",
    x: { label: "component", names: shown.map(([name]) => name) },
    y: { label: "%" },
    series: [
      bars("% contribution", (component) => component.pct_contribution),
      bars("% study variation", (component) => component.pct_study),
      bars("% tolerance", (component) => component.pct_tolerance),
    ].filter(({ points }) => points.length > 0),
  };
}

function valueChart({ parts, appraisers, values }: CrossedStudy, unit: string | undefined): StudyChart {
  const mean = (cell: readonly number[]) => cell.reduce((sum, value) => sum + value, 0) / cell.length;
  return {
    title: "Values by part and appraiser",
    x: { label: "part", names: parts },
    y: { label: unit === undefined ? "value" : `value, ${unit}` },
    series: appraisers.flatMap((appraiser, j) => [
      {
        name: appraiser,
        draw: "dots" as const,
        points: values.flatMap((row, i) => (row[j] ?? []).map((value) => [i, value] as const)),
      },
      {
        name: `mean of ${appraiser}`,
        like: appraiser,
        draw: "line" as const,
        points: values.map((row, i) => [i, mean(row[j] ?? [])] as const),
      },
    ]),
  };
}

function rangesChart(study: CrossedStudy, unit: string | undefined): StudyChart {
  const { ranges, CL, UCL, LCL } = rangeChart(study);
  return {
    title: "Range of the trials by appraiser and part",
    x: { label: "part, once for each appraiser", names: ranges.map(({ part }) => part) },
    y: { label: unit === undefined ? "range" : `range, ${unit}` },
    series: study.appraisers.map((by) => {
      const own = ranges.flatMap(({ appraiser, range }, k) => (appraiser === by ? [{ k, range }] : []));
      return {
        name: by,
        draw: "line and dots" as const,
        points: own.map(({ k, range }) => [k, range] as const),
        marked: own.flatMap(({ range }, index) => (range > UCL ? [index] : [])),
      };
    }),
    levels: [
      { label: "UCL", along: "y", at: UCL, means: "control limit" },
      { label: "mean", along: "y", at: CL, means: "centre" },
      ...(LCL > 0 ? [{ label: "LCL", along: "y" as const, at: LCL, means: "control limit" as const }] : []),
    ],
  };
}
