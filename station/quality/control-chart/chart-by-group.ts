import { NoStudy, type StudyAnswer, type StudyReport, tableOnDemand } from "../study-report.ts";
import { type ChartReportOptions, chartReport } from "./chart-report.ts";
import type { ChartData } from "./chart-study.ts";
import { namedChart } from "./named-chart.ts";
import { signalsOf } from "./signal-rows.ts";

/** What one cavity, station or lot has made. */
export interface ChartedGroup {
  readonly name: string;
  readonly data: ChartData;
  readonly labels: readonly string[] | undefined;
}

type Told = ChartedGroup & { readonly report: StudyReport };

/** Worst first; of those as bad, the one with more signals. */
const ORDER: readonly StudyAnswer[] = ["no", "marginal", "none", "yes"];
/** Of the groups that signal, as many are drawn. */
const MOST_DRAWN = 24;

/**
 * A control chart for each group, with limits of its own: the answer is no where one of them signals.
 * @param by what the groups are: "tub_cavity"
 * @param options `of` is what all have in common
 * @throws NoStudy where not one of the groups gives a chart
 */
export function chartByGroup(
  groups: readonly ChartedGroup[],
  by: string,
  options: Omit<ChartReportOptions, "labels">,
): StudyReport {
  const told: Told[] = [];
  const silent: { readonly name: string; readonly why: string }[] = [];
  for (const group of groups) {
    try {
      const of = `${options.of === undefined ? "" : `${options.of}, `}${by} ${group.name}`;
      told.push({ ...group, report: chartReport(group.data, { ...options, of, labels: group.labels }) });
    } catch (error) {
      if (!(error instanceof NoStudy)) throw error;
      silent.push({ name: group.name, why: error.message });
    }
  }
  told.sort(
    (a, b) =>
      ORDER.indexOf(a.report.answer) - ORDER.indexOf(b.report.answer) ||
      signalsOf(b.report) - signalsOf(a.report),
  );
  const [worst] = told;
  if (!worst) throw new NoStudy(silent.map(({ name, why }) => `${by} ${name}: ${why}`).join(" "));
  const { unit, of } = options;
  const drawn = told.slice(0, MOST_DRAWN);
  return {
    title: `${worst.report.title}, by ${by}`,
    question: worst.report.question,
    subject: `${of === undefined ? "" : `${of}, `}a chart for each of ${told.length}${unit === undefined || isCounted(worst.data) ? "" : `, in ${unit}`}`,
    conclusion: conclusionOf(told, silent.length, by),
    answer: worst.report.answer,
    bands: worst.report.bands,
    notes: [
      ...sharedNotes(told, by),
      ...silent.map(({ name, why }) => `${by} ${name} has no chart: ${why}`),
      ...(drawn.length < told.length ? [`Drawn are the first ${MOST_DRAWN} of ${told.length} charts.`] : []),
    ],
    tables: [
      limitsTable(told, by),
      ...drawn.flatMap(({ name, report }) =>
        report.tables
          .filter(({ caption }) => caption === "Signals")
          .map((table) => ({ ...table, caption: `Signals, ${by} ${name}` })),
      ),
    ],
    charts: drawn.flatMap(({ name, report }) =>
      report.charts.map((chart) => namedChart(`${by} ${name}:`, chart)),
    ),
    figures: {
      by,
      groups: told.map(({ name, report }) => ({
        name,
        answer: report.answer,
        conclusion: report.conclusion,
        ...report.figures,
      })),
      without_a_chart: silent,
    },
    data: tableOnDemand(
      { caption: "Data", columns: [{ heading: by, kind: "text" }, ...worst.report.data.columns] },
      () => told.flatMap(({ name, report }) => report.data.rows.map((row) => [name, ...row])),
    ),
  };
}

function isCounted(data: ChartData): boolean {
  return data.kind === "p" || data.kind === "u";
}

function conclusionOf(told: readonly Told[], silent: number, by: string): string {
  const [worst] = told;
  if (!worst) return "";
  const names = (answer: StudyAnswer) =>
    told.flatMap(({ name, report }) => (report.answer === answer ? [name] : []));
  const moved = names("no");
  if (moved.length > 0) {
    const rest = moved.length > 1 ? ` (and so ${listed(moved.slice(1))})` : "";
    return `${by} ${worst.name}${rest}: ${worst.report.conclusion}`;
  }
  const few = [...names("none"), ...names("marginal")];
  if (few.length > 0 || silent > 0) {
    return `No signal by ${by}, but of ${few.length + silent} of ${told.length + silent} there is too little to say that they stand still: gather 20 points or more of each.`;
  }
  return `The process stands still by ${by}: no signal on any of ${told.length} charts.`;
}

function listed(names: readonly string[]): string {
  return names.length > 6 ? `${names.slice(0, 6).join(", ")} and ${names.length - 6} more` : names.join(", ");
}

/** A note that all share is told once. */
function sharedNotes(told: readonly Told[], by: string): string[] {
  const names = new Map<string, string[]>();
  for (const { name, report } of told)
    for (const note of report.notes) names.set(note, [...(names.get(note) ?? []), name]);
  return [...names].map(([note, its]) =>
    its.length === told.length ? note : `${by} ${listed(its)}: ${note}`,
  );
}

/** Of the chart that says most, one row for each group. */
function limitsTable(told: readonly Told[], by: string) {
  return {
    caption: "Limits",
    columns: [
      { heading: by, kind: "text" as const },
      ...["LCL", "CL", "UCL", "points", "signals"].map((heading) => ({ heading, kind: "number" as const })),
    ],
    rows: told.map(({ name, report }) => {
      const [, low = "", centre = "", high = "", points = ""] =
        report.tables.find(({ caption }) => caption === "Limits")?.rows[0] ?? [];
      return [name, low, centre, high, points, String(signalsOf(report))];
    }),
  };
}
