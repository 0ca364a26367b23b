import { drawnChart } from "../quality/control-chart/chart-report.ts";
import type { ChartedProcess, ControlChart } from "../quality/control-chart/control-chart.ts";
import { individualsChart } from "../quality/control-chart/individuals.ts";
import { subgroupChart } from "../quality/control-chart/subgroups.ts";
import { NoStudy, type StudyChart } from "../quality/study-report.ts";
import { unitsText } from "./share-text.ts";
import { shownUnit } from "./shown-unit.ts";
import type { MeasuredSeries } from "./yield-detail.ts";

/** A series in the order of its making, against what it scatters in a short time. */
export interface ValueTrend {
  readonly chart: StudyChart;
  /** What each point is: its first unit, when, how many, and the mean. */
  readonly points: readonly TrendPoint[];
  readonly control: ControlChart;
  /** How it was made, and of what. */
  readonly notes: readonly string[];
}

export interface TrendPoint {
  readonly serial: string;
  readonly at_ms: number;
  readonly units: number;
  readonly value: number;
  readonly isOutside: boolean;
}

const SUBGROUP = 5;
/** Fewer values are drawn one by one: five subgroups say little. */
const LEAST_FOR_SUBGROUPS = 60;
const LEAST = 10;

/**
 * Control chart of units that passed: means of five in a row, or single values where there are few. What failed is no part of
 * what the process usually does, and is in the list of failures.
 * @returns a sentence in place of a chart where there are too few values, or none that differ
 */
export function trendOf(series: MeasuredSeries): ValueTrend | string {
  const { model, characteristic, unit } = series;
  const taken = series.values.flatMap((value, i) => (series.passed[i] ? [{ value, i }] : []));
  const subject = `${characteristic} of ${model}`;
  if (taken.length < LEAST) {
    return `No control chart of ${subject}: ${unitsText(taken.length)} passed it, and it takes ${LEAST}.`;
  }
  const size = taken.length < LEAST_FOR_SUBGROUPS ? 1 : SUBGROUP;
  const groups = Array.from({ length: Math.floor(taken.length / size) }, (_, k) =>
    taken.slice(k * size, (k + 1) * size),
  );
  try {
    const charted = chartedBy(groups, size);
    const [control] = charted.charts;
    if (!control) return `No control chart of ${subject}.`;
    const outside = outsideOf(control);
    const left = taken.length - groups.length * size;
    const failed = series.values.length - taken.length;
    const of = size === 1 ? "single units that passed it" : `means of ${size} units in a row that passed it`;
    const drawn = drawnChart(control, charted, shownUnit(unit));
    const points = drawn.series[0]?.points.length ?? 0;
    return {
      chart: {
        ...drawn,
        title: `${subject}, ${of}, with control limits`,
        x: {
          label:
            size === 1
              ? "unit, in the order of inspection"
              : `${size} units each, in the order of inspection`,
        },
        y: { label: `${characteristic}, ${shownUnit(unit)}` },
      },
      points: groups.map((group, k) => ({
        serial: series.serials[group[0]?.i ?? 0] ?? "",
        at_ms: series.at_ms[group[0]?.i ?? 0] ?? 0,
        units: group.length,
        value: control.values[k] ?? 0,
        isOutside: outside.has(k),
      })),
      control,
      notes: [
        `Control limits of ${subject}: ${size === 1 ? "individuals chart, moving ranges" : "X-bar chart, standard deviations within subgroups"}, three sigma, from ${groups.length} points of these days (ISO 7870-2).${failed > 0 ? ` ${failed} that failed it are not among them.` : ""}${left > 0 ? ` The newest ${left} fill no group of ${size} yet.` : ""}`,
        ...(points < groups.length
          ? [
              `Drawn are the newest ${points} of ${groups.length} points of ${subject}; limits and signals are of all.`,
            ]
          : []),
      ],
    };
  } catch (error) {
    if (error instanceof NoStudy) return `No control chart of ${subject}: ${error.message}`;
    throw error;
  }
}

function chartedBy(groups: readonly (readonly { readonly value: number }[])[], size: number): ChartedProcess {
  if (size === 1)
    return individualsChart(
      groups.map(([one]) => one?.value ?? 0),
      {},
    );
  const subgroups = groups.map((group, k) => ({
    name: String(k + 1),
    values: group.map(({ value }) => value),
  }));
  return subgroupChart(subgroups, { by: "standard deviation" });
}

/** Points that a signal names, from 0. */
function outsideOf({ signals, first }: ControlChart): ReadonlySet<number> {
  const places = new Set<number>();
  for (const { index, to } of signals)
    for (let number = index; number <= to; number++) places.add(number - first);
  return places;
}
