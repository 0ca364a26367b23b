import { formatNumber } from "../../../limits/print-quantity.ts";
import {
  type AcceptanceBand,
  type ChartSeries,
  type Figure,
  NoStudy,
  type StudyAnswer,
  type StudyChart,
  type StudyReport,
  type StudyTable,
  tableOnDemand,
} from "../study-report.ts";
import { isEnough } from "./baseline.ts";
import { type AnyChartOptions, type ChartData, chartedProcess } from "./chart-study.ts";
import { type ChartedProcess, type ControlChart, type Level, levelAt } from "./control-chart.ts";
import { RUN_RULES, type Signal, USUAL_RULES } from "./run-rules.ts";
import { signalRows } from "./signal-rows.ts";

export interface ChartReportOptions extends AnyChartOptions {
  /** What was charted: "leak rate of TUB-12, cavity T3". */
  readonly of?: string | undefined;
  readonly unit?: string | undefined;
  /** A name for each point, such as its time or serial. */
  readonly labels?: readonly string[] | undefined;
}

/** More signals than this are in the figures and not read in a table. */
const MOST_ROWS = 25;
/** More points than this no eye tells apart on a page. */
const MOST_DRAWN = 1000;
/** A page's table of more than this nobody prints. */
const MOST_LISTED = 5000;

/**
 * Control charts of some values as a report; the answer is no where a signal was found.
 * @param data in the order of its making
 * @throws NoStudy where the data can't give the chart
 */
export function chartReport(data: ChartData, options: ChartReportOptions): StudyReport {
  const charted = chartedProcess(data, options);
  const signals = charted.charts
    .flatMap((chart) => chart.signals)
    .sort((a, b) => a.index - b.index || a.from - b.from);
  const [main] = charted.charts;
  if (!main) throw new Error("A process without a chart.");
  const labels =
    options.labels ??
    (data.kind === "xbar-r" || data.kind === "xbar-s" ? data.subgroups.map(({ name }) => name) : undefined);
  const count = main.values.length;
  const figures = {
    kind: data.kind,
    ...charted.figures,
    baseline: charted.estimatedFrom,
    first_signal: signals[0]?.index ?? null,
    out: main.signals.filter(({ rule }) => rule === RUN_RULES[0]).map(({ index }) => index),
    signals: signals.map((it) => signalFigure(it, labels)),
  };
  refuseInfinite(figures);
  const unit = data.kind === "p" || data.kind === "u" ? undefined : options.unit;
  return {
    title: charted.title,
    question: "Does the process stand still?",
    subject: `${options.of === undefined ? "" : `${options.of}, `}${count} ${charted.noun}s${unit === undefined ? "" : `, in ${unit}`}`,
    conclusion: conclusionOf(charted, signals, count, labels),
    answer: answerOf(charted, signals),
    bands: bandsOf(data.kind, options),
    notes: notesOf(charted, signals, count),
    tables: [
      limitsTable(charted),
      ...(signals.length > 0 ? [signalsTable(signals, charted.noun, labels)] : []),
    ],
    charts: charted.charts.map((chart) => drawnChart(chart, charted, unit)),
    figures,
    data: dataTable(data, charted, labels),
  };
}

function answerOf(charted: ChartedProcess, signals: readonly Signal[]): StudyAnswer {
  if (signals.length > 0) return "no";
  return isEnough(charted.estimatedFrom) ? "yes" : "none";
}

function conclusionOf(
  charted: ChartedProcess,
  signals: readonly Signal[],
  count: number,
  labels: readonly string[] | undefined,
): string {
  const { noun, estimatedFrom } = charted;
  const [first] = signals;
  if (!first) {
    if (isEnough(estimatedFrom)) return `The process stands still: no signal in ${count} ${noun}s.`;
    return `No signal in ${count} ${noun}s, but limits from ${estimatedFrom} are too uncertain to say that the process stands still: gather 20 or more.`;
  }
  const label = labels?.[first.index - 1];
  const named = `${noun} ${first.index}${label === undefined || label === String(first.index) ? "" : ` (${label})`}`;
  const after =
    first.index <= estimatedFrom
      ? "find out what changed there, and only then use limits that it went into"
      : "find out what changed there";
  return `The process does not stand still: ${signals.length === 1 ? "one signal" : `${signals.length} signals`} in ${count} ${noun}s, the first at ${named}, ${first.rule}; ${after}.`;
}

function bandsOf(
  kind: ChartData["kind"],
  { rules = USUAL_RULES, width = 3 }: ChartReportOptions,
): AcceptanceBand[] {
  if (kind === "cusum")
    return [
      {
        text: "a sum beyond the decision interval is a signal",
        source: "ISO 7870-4; NIST/SEMATECH e-Handbook 6.3.2.3",
      },
    ];
  const limits = `control limits at ${formatNumber(width)} standard deviations`;
  if (kind === "ewma")
    return [
      {
        text: `an average beyond its ${limits} is a signal`,
        source: "ISO 7870-6; NIST/SEMATECH e-Handbook 6.3.2.4",
      },
    ];
  return [
    {
      text: `${limits}; signals: ${rules.join(", ")}`,
      source: "rules: Nelson 1984, J. Quality Technology 16(4); ISO 8258:1991; ISO 7870-2, from memory",
    },
  ];
}

function notesOf(charted: ChartedProcess, signals: readonly Signal[], count: number): string[] {
  const shownSignals = signalRows(signals, charted.noun)
    .slice(0, MOST_ROWS)
    .reduce((sum, { count: signalsOfRow }) => sum + signalsOfRow, 0);
  const left = signals.length - shownSignals;
  return [
    ...charted.notes,
    ...(left > 0 ? [`${left} more signals are not in the table; --json has all.`] : []),
    ...(count > MOST_DRAWN
      ? [
          `Drawn are the newest ${MOST_DRAWN} of ${count} ${charted.noun}s; the limits and signals are of all.`,
        ]
      : []),
  ];
}

function signalFigure(signal: Signal, labels: readonly string[] | undefined): Figure {
  const { index, from, to, rule, chart, sentence } = signal;
  const label = labels?.[index - 1];
  return { index, ...(label === undefined ? {} : { label }), from, to, rule, chart, sentence };
}

function limitsTable({ charts }: ChartedProcess): StudyTable {
  return {
    caption: "Limits",
    columns: [
      { heading: "chart", kind: "text" },
      { heading: "LCL", kind: "number" },
      { heading: "CL", kind: "number" },
      { heading: "UCL", kind: "number" },
      { heading: "points", kind: "number" },
      { heading: "signals", kind: "number" },
    ],
    rows: charts.map((chart) => {
      const shown = roundedFor(chart);
      return [
        chart.name,
        levelText(chart.LCL, shown),
        levelText(chart.CL, shown),
        levelText(chart.UCL, shown),
        String(chart.values.length),
        String(chart.signals.length),
      ];
    }),
  };
}

function levelText(level: Level, shown: (value: number) => string): string {
  if (typeof level === "number") return shown(level);
  const [least, most] = extremes(level);
  return `${shown(least)} to ${shown(most)}`;
}

function extremes(level: Level): readonly [number, number] {
  if (typeof level === "number") return [level, level];
  let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const value of level) {
    if (value < least) least = value;
    if (value > most) most = value;
  }
  return [least, most];
}

function signalsTable(
  signals: readonly Signal[],
  noun: string,
  labels: readonly string[] | undefined,
): StudyTable {
  const isNamed = labels?.some((label, i) => label !== String(i + 1)) ?? false;
  return {
    caption: "Signals",
    columns: [
      { heading: noun, kind: "number" },
      ...(isNamed ? [{ heading: "name", kind: "text" } as const] : []),
      { heading: "rule", kind: "text" },
      { heading: "what", kind: "text" },
    ],
    rows: signalRows(signals, noun)
      .slice(0, MOST_ROWS)
      .map(({ signal: { index, rule }, points, sentence }) => [
        points,
        ...(isNamed ? [labels?.[index - 1] ?? ""] : []),
        rule,
        sentence,
      ]),
  };
}

/** A chart with its limits and what it signals marked; the newest points only where there are very many. */
export function drawnChart(
  chart: ControlChart,
  charted: ChartedProcess,
  unit: string | undefined,
): StudyChart {
  const skip = Math.max(0, chart.values.length - MOST_DRAWN);
  const shown = roundedFor(chart);
  const line = (valueAt: (i: number) => number): [number, number][] =>
    chart.values.slice(skip).map((_, k) => [chart.first + skip + k, valueAt(skip + k)]);
  const limits: readonly (readonly [string, Level, "centre" | "control limit"])[] = [
    ["UCL", chart.UCL, "control limit"],
    ["CL", chart.CL, "centre"],
    ["LCL", chart.LCL, "control limit"],
  ];
  // A limit that is the centre line itself, as of a CUSUM's other side, would only hide it.
  const apart = limits.filter(([name, level]) => name === "CL" || level !== chart.CL);
  const series: ChartSeries[] = [
    {
      name: chart.name,
      draw: "line and dots",
      points: line((i) => chart.values[i] ?? 0),
      marked: [...new Set(chart.signals.flatMap(({ index, to }) => from(index, to)))]
        .map((number) => number - chart.first - skip)
        .filter((k) => k >= 0),
    },
    ...apart.flatMap(([name, level, means]): ChartSeries[] =>
      typeof level === "number"
        ? []
        : [{ name, means, draw: "steps", points: line((i) => levelAt(level, i)) }],
    ),
  ];
  return {
    title: `${charted.title}: ${chart.name}`,
    x: { label: charted.noun },
    y: { label: unit === undefined ? chart.name : `${chart.name}, ${unit}` },
    series,
    levels: apart.flatMap(([name, level, means]) =>
      typeof level === "number"
        ? [{ label: `${name} ${shown(level)}`, along: "y" as const, at: level, means }]
        : [],
    ),
  };
}

function from(first: number, last: number): number[] {
  return Array.from({ length: last - first + 1 }, (_, k) => first + k);
}

/** The newest points where there are very many. */
function dataTable(
  data: ChartData,
  { noun, charts }: ChartedProcess,
  labels: readonly string[] | undefined,
): StudyTable {
  const raw = rawColumns(data);
  const extra = (data.kind === "individuals" ? [] : charts).map((chart) => ({
    ...chart,
    shown: roundedFor(chart),
  }));
  const named = "subgroups" in data ? undefined : labels;
  const count = charts[0]?.values.length ?? 0;
  const skip = Math.max(0, count - MOST_LISTED);
  return tableOnDemand(
    {
      caption: skip === 0 ? "Data" : `Data, the newest ${MOST_LISTED} of ${count}`,
      columns: [
        { heading: noun, kind: "number" },
        ...(named ? [{ heading: "name", kind: "text" } as const] : []),
        ...raw.map(({ heading, kind }) => ({ heading, kind })),
        ...extra.map(({ name }) => ({ heading: name, kind: "number" as const })),
      ],
    },
    () =>
      Array.from({ length: count - skip }, (_, k) => k + skip).map((i) => [
        String(i + 1),
        ...(named ? [named[i] ?? ""] : []),
        ...raw.map(({ cell }) => cell(i)),
        ...extra.map(({ values, shown }) => shown(values[i] ?? 0)),
      ]),
  );
}

interface RawColumn {
  readonly heading: string;
  readonly kind: "text" | "number";
  cell(i: number): string;
}

function rawColumns(data: ChartData): readonly RawColumn[] {
  const number = (value: number | undefined) => (value === undefined ? "" : formatNumber(value));
  if ("values" in data) return [{ heading: "value", kind: "number", cell: (i) => number(data.values[i]) }];
  if ("samples" in data)
    return [
      { heading: "count", kind: "number", cell: (i) => number(data.samples[i]?.count) },
      { heading: "size", kind: "number", cell: (i) => number(data.samples[i]?.size) },
    ];
  return [
    { heading: "name", kind: "text", cell: (i) => data.subgroups[i]?.name ?? "" },
    {
      heading: "values",
      kind: "text",
      cell: (i) => (data.subgroups[i]?.values ?? []).map(number).join(" "),
    },
  ];
}

/** Rounds to a hundredth or thousandth of the way between the limits, and to no less than five digits; made once for all values. */
function roundedFor({ UCL, LCL }: ControlChart): (value: number) => string {
  const apart = extremes(UCL)[1] - extremes(LCL)[0];
  const decimals = 2 - Math.floor(Math.log10(apart));
  return (value) => {
    const five = formatNumber(value, { significant: 5 });
    if (!(decimals > 0 && decimals <= 15)) return five;
    const byLimits = String(Number(value.toFixed(decimals)));
    return byLimits.length > five.length ? byLimits : five;
  };
}

/** @throws NoStudy where a figure is no number: values so large that sums or squares overflow */
export function refuseInfinite(figure: Figure): void {
  if (typeof figure === "number" && !Number.isFinite(figure))
    throw new NoStudy(
      "The values are too large or too far apart to be calculated with: give them in another unit.",
    );
  if (figure === null || typeof figure !== "object") return;
  for (const part of Object.values(figure) as readonly Figure[]) refuseInfinite(part);
}
