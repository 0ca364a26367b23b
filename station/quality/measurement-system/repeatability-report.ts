import { formatMeasured, formatNumber } from "../../../limits/print-quantity.ts";
import type { AcceptanceBand, Figure, StudyAnswer, StudyReport, StudyTable } from "../study-report.ts";
import type { CrossedStudy } from "./crossed-study.ts";
import type { AnovaLine } from "./gauge-anova.ts";
import type { Interval } from "./mls-interval.ts";
import type { Component, ComponentName, Repeatability, Tolerance } from "./repeatability.ts";
import { repeatabilityCharts } from "./repeatability-charts.ts";
import { repeatabilityNotes } from "./repeatability-notes.ts";

export interface ReportedGauge {
  /** What was measured, where it is known: "leak rate of TUB-12". */
  readonly subject?: string | undefined;
  /** Of the values. */
  readonly unit?: string | undefined;
  readonly tolerance?: Tolerance | undefined;
  readonly poolAbove?: number | undefined;
}

const BAND: AcceptanceBand = {
  text: "GRR under 10 %: good; 10 to 30 %: may do, by use and cost; above 30 %: not fit. Of the tolerance where one is given, else of the study variation",
  source: "AIAG, Measurement Systems Analysis, 4th ed., from memory",
};
const CATEGORIES: AcceptanceBand = {
  text: "5 distinct categories or more, for use in following the process",
  source: "AIAG, Measurement Systems Analysis, 4th ed., from memory",
};

/** @returns the study as terminal, program and page show it */
export function repeatabilityReport(
  study: CrossedStudy,
  found: Repeatability,
  reported: ReportedGauge = {},
): StudyReport {
  const { answer, conclusion } = judged(study, found);
  const { parts, appraisers, trials } = study;
  const size = `${parts.length} parts x ${counted(appraisers.length, "appraiser")} x ${trials} trials`;
  return {
    title: "Gauge repeatability and reproducibility",
    question: "Is the gauge fit to judge?",
    subject: `${reported.subject === undefined ? "" : `${reported.subject}, `}${size}, ${METHODS[found.method]}`,
    conclusion,
    answer,
    bands: [BAND, CATEGORIES],
    notes: repeatabilityNotes(study, found, reported),
    tables: [...(found.anova ? [anovaTable(found)] : []), componentTable(found, reported.unit)],
    charts: repeatabilityCharts(study, found, reported.unit),
    figures: { method: found.method, ...designFigures(study), ...repeatabilityFigures(found) },
    data: dataTable(study, reported.unit),
  };
}

/** A good gauge needs this many values that repeat another, and parts: common practice, no source. */
const FEWEST_REPEATS = 20;
const FEWEST_PARTS = 5;

const METHODS = { anova: "analysis of variance", range: "average and range" } as const;

function judged(
  study: CrossedStudy,
  found: Repeatability,
): { readonly answer: StudyAnswer; readonly conclusion: string } {
  const { GRR, AV } = found.components;
  const ofTolerance = GRR.pct_tolerance !== null;
  const part = GRR.pct_tolerance ?? GRR.pct_study;
  const what = AV === null ? "The gauge's repeatability (one appraiser only)" : "The gauge's own spread";
  if (part === null || GRR.sd === 0) {
    return {
      answer: "none",
      conclusion:
        found.components.TV.sd === 0
          ? "All values are the same: neither gauge nor parts show any spread, so nothing can be said. Look at the gauge's resolution, and measure parts that differ."
          : "Repeated values never differ, so the gauge's spread does not show: look at its resolution, and whether the values were really measured anew.",
    };
  }
  const answer = part < 10 ? "yes" : part <= 30 ? "marginal" : "no";
  const share = formatMeasured({ value: part, comparedWith: [10, 30] }).value;
  const ofWhat = `${what} is ${share} % of the ${ofTolerance ? "tolerance" : "study variation"}`;
  const { parts, appraisers, trials } = study;
  const again = parts.length * appraisers.length * (trials - 1);
  const tooFew = again < FEWEST_REPEATS || (!ofTolerance && parts.length < FEWEST_PARTS);
  if (answer === "yes" && tooFew) {
    return {
      answer: "none",
      conclusion: `${ofWhat}, which would be good, but from a study too small to rely on: ${again} repeated measurements of ${parts.length} parts. Take ${FEWEST_PARTS} parts or more, better 10, and ${FEWEST_REPEATS} repeated measurements or more in all.`,
    };
  }
  const verdict = {
    yes: "good",
    marginal: "it may do, by use and by what a better one costs",
    no: "it is not fit for this use",
  }[answer];
  const { ndc } = found;
  const classes =
    ndc === null
      ? ""
      : ndc < 2
        ? ofTolerance && answer !== "no"
          ? " The study's parts are too alike for it to tell them apart: what it is worth for following the process shows on parts that differ as production does."
          : ` It can't tell the study's parts apart. Where these are alike, the fault is theirs: measure parts that differ as production does${ofTolerance ? "" : ", or state the tolerance"}.`
        : ` It tells ${ndc} classes of parts apart${ndc < 5 ? "; to follow the process, 5 or more are wanted" : ""}.`;
  return {
    answer,
    conclusion: `${ofWhat}: ${verdict}.${classes}`,
  };
}

function anovaTable({ anova }: Repeatability): StudyTable {
  const line = (name: string, of: AnovaLine | null) =>
    of === null
      ? []
      : [[name, String(of.degrees), shown(of.sumOfSquares), shown(of.meanSquare), shown(of.F), chance(of.p)]];
  const pooled = anova?.interactionIs === "pooled" ? anova.pooled : null;
  return {
    caption: "Analysis of variance",
    columns: [
      { heading: "source", kind: "text" },
      { heading: "degrees of freedom", kind: "number" },
      { heading: "sum of squares", kind: "number" },
      { heading: "mean square", kind: "number" },
      { heading: "F", kind: "number" },
      { heading: "p", kind: "number" },
    ],
    rows: anova
      ? [
          ...line("part", anova.part),
          ...line("appraiser", anova.appraiser),
          ...line("part x appraiser", anova.interaction),
          ...line("repeatability", anova.repeatability),
          ...(pooled
            ? [
                [
                  "pooled",
                  String(pooled.degrees),
                  shown(pooled.meanSquare * pooled.degrees),
                  shown(pooled.meanSquare),
                  "",
                  "",
                ],
              ]
            : []),
          ["total", String(anova.total.degrees), shown(anova.total.sumOfSquares), "", "", ""],
        ]
      : [],
  };
}

const NAMES: Readonly<Record<ComponentName, string>> = {
  GRR: "gauge R&R (GRR)",
  EV: "  repeatability (EV)",
  AV: "  appraisers (AV)",
  INT: "  part x appraiser (INT)",
  PV: "part (PV)",
  TV: "total (TV)",
};

function componentTable({ components, method }: Repeatability, unit: string | undefined): StudyTable {
  const withTolerance = components.GRR.pct_tolerance !== null;
  const sd = unit === undefined ? "std dev" : `std dev, ${unit}`;
  const cells = (name: ComponentName, of: Component) => [
    NAMES[name],
    shown(of.sd),
    ...(method === "anova" ? [range(of.sd_CI95)] : []),
    shown(of.variance),
    percent(of.pct_contribution),
    percent(of.pct_study),
    ...(withTolerance ? [percent(of.pct_tolerance)] : []),
  ];
  return {
    caption: "Where the spread comes from",
    columns: [
      { heading: "component", kind: "text" },
      { heading: sd, kind: "number" },
      ...(method === "anova" ? [{ heading: "95 % interval", kind: "number" as const }] : []),
      { heading: "variance", kind: "number" },
      { heading: "% contribution", kind: "number" },
      { heading: "% study variation", kind: "number" },
      ...(withTolerance ? [{ heading: "% tolerance", kind: "number" as const }] : []),
    ],
    rows: (["GRR", "EV", "AV", "INT", "PV", "TV"] as const).flatMap((name) => {
      const of = components[name];
      return of ? [cells(name, of)] : [];
    }),
  };
}

function dataTable({ readings }: CrossedStudy, unit: string | undefined): StudyTable {
  return {
    caption: "Values",
    columns: [
      { heading: "part", kind: "text" },
      { heading: "appraiser", kind: "text" },
      { heading: "trial", kind: "text" },
      { heading: unit === undefined ? "value" : `value, ${unit}`, kind: "number" },
    ],
    rows: readings.map(({ part, appraiser, trial, value }) => [part, appraiser, trial, formatNumber(value)]),
  };
}

function designFigures({ parts, appraisers, trials, leftOut }: CrossedStudy): Record<string, Figure> {
  return { parts: parts.length, appraisers: appraisers.length, trials, parts_left_out: leftOut };
}

/** Everything by AIAG's names; null for what design or method can't tell. */
function repeatabilityFigures(found: Repeatability): Record<string, Figure> {
  const { components, anova, range: byRange } = found;
  const figures: Record<string, Figure> = {};
  const intervals: Record<string, Figure> = {};
  for (const name of ["EV", "AV", "INT", "GRR", "PV", "TV"] as const) {
    const of = components[name];
    figures[name] = of?.sd ?? null;
    figures[`pct_${name}`] = of?.pct_study ?? null;
    figures[`pct_contrib_${name}`] = of?.pct_contribution ?? null;
    figures[`pct_tolerance_${name}`] = of?.pct_tolerance ?? null;
    if (of?.sd_CI95) intervals[`${name}_CI95`] = pair(of.sd_CI95);
  }
  Object.assign(figures, { sd_GRR: components.GRR.sd, ndc: found.ndc, ndc_raw: found.ndc_raw });
  if (byRange) {
    const { Rbarbar, Xdiff, Rp, K1, K2, K3 } = byRange;
    return { ...figures, Rbarbar, Xdiff, Rp, K1, K2, K3 };
  }
  if (!anova) return figures;
  const lines = { part: anova.part, op: anova.appraiser, int: anova.interaction, rep: anova.repeatability };
  for (const [name, line] of Object.entries(lines)) {
    figures[`SS_${name}`] = line?.sumOfSquares ?? null;
    figures[`MS_${name}`] = line?.meanSquare ?? null;
    if (name !== "rep") {
      figures[`F_${name}`] = line?.F ?? null;
      figures[`p_${name}`] = line?.p ?? null;
    }
  }
  return {
    ...figures,
    SS_tot: anova.total.sumOfSquares,
    df: Object.values(lines).flatMap((line) => (line ? [line.degrees] : [])),
    df_tot: anova.total.degrees,
    interaction: anova.interactionIs,
    pooled_MS: anova.pooled?.meanSquare ?? null,
    pooled_df: anova.pooled?.degrees ?? null,
    var_rep: components.EV.variance,
    var_op: components.AV?.variance ?? null,
    var_int: components.INT?.variance ?? null,
    var_part: components.PV.variance,
    var_GRR: components.GRR.variance,
    var_total: components.TV.variance,
    ...intervals,
    pct_GRR_CI95: pair(found.pct_GRR_CI95),
    pct_tolerance_GRR_CI95: pair(found.pct_tolerance_GRR_CI95),
    ndc_raw_CI95: pair(found.ndc_raw_CI95),
  };
}

function pair(interval: Interval | null): Figure {
  return interval && [interval.lower, interval.upper];
}

function range(interval: Interval | null): string {
  return interval ? `${shown(interval.lower)} to ${shown(interval.upper)}` : "";
}

function shown(value: number | null): string {
  return value === null ? "" : formatNumber(value, { significant: 4 });
}

function percent(value: number | null): string {
  return value === null ? "" : formatNumber(value, { decimals: 2 });
}

/** @example chance(1e-9) // "< 0.0001" */
function chance(p: number | null): string {
  if (p === null) return "";
  return p < 0.0001 ? "< 0.0001" : formatNumber(p, { decimals: 4 });
}

function counted(count: number, what: string): string {
  return `${count} ${what}${count === 1 ? "" : "s"}`;
}
