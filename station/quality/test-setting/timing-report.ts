import type { LeakStep } from "../../../limits/model.ts";
import { formatNumber } from "../../../limits/print-quantity.ts";
import type { StudyChart, StudyReport, StudyTable } from "../study-report.ts";
import { timingLines } from "./limit-lines.ts";
import type { Risks, Timing } from "./setting-risks.ts";
import type { SettingFound, TimingFound } from "./timing-study.ts";

export interface TimingTold {
  readonly model: string;
  readonly characteristic: string;
  readonly limit: number;
  readonly unit: string;
  readonly step: LeakStep;
  readonly risks: Risks;
  /** Where they were taken from, like "early_verdict of the limit file". */
  readonly risksFrom: string;
  readonly curves: number;
  readonly longest_s: number;
  readonly notes: readonly string[];
}

const SOURCE = "JCGM 106:2012, 9.5: global consumer's and producer's risk";

/** A timing study for people and programs. */
export function timingReport(found: TimingFound, told: TimingTold): StudyReport {
  const { model, characteristic, risks, unit, limit, step, curves, longest_s } = told;
  const { chosen, present: now } = found;
  const lines = chosen === null ? [] : timingLines(stepAt(step, chosen));
  return {
    title: "How long the leak test must take",
    question: "Is there a setting that keeps the risks?",
    subject: `${characteristic} of ${model}, at most ${formatNumber(limit)} ${unit}, ${step.method.kind}: ${curves} curves of ${formatNumber(longest_s)} s, ${found.units} units`,
    conclusion: conclusionOf(found, told),
    answer: chosen === null ? "no" : "yes",
    bands: [
      {
        text: `asked for, of all units: at most ${percent(risks.falseAccept)} bad and accepted, at most ${percent(risks.falseReject)} good and rejected; ${told.risksFrom}`,
        source: SOURCE,
      },
    ],
    notes: [
      `U: expanded uncertainty (k = 2) of a leak at the limit. Scatter, shift: of its values about those of the whole curves. R_C: bad and accepted, R_P: good and rejected, of all units; without them a setting is so vague that it passes nobody. Accepts: largest value accepted. At limit: chance in % that a leak at the limit is accepted. A shift upwards counts for R_P alone.`,
      ...earlyNotes(found, told),
      ...told.notes,
      ...(chosen === null ? [] : ["Lines for the limit file's leak step:", ...lines.map((it) => `  ${it}`)]),
    ],
    tables: [
      settingsTable(
        `Settings that no shorter one betters, s and ${unit} (* the shortest that keeps the risks, = the present one)`,
        found.front,
        found,
      ),
    ],
    charts: chartsOf(found, told),
    figures: {
      model,
      unit,
      limit,
      method: step.method.kind,
      curves,
      longest_s,
      units: found.units,
      conforming: found.conforming,
      risks_asked: { false_accept: risks.falseAccept, false_reject: risks.falseReject },
      chosen: chosen === null ? null : figureOf(chosen),
      present: now === null ? null : figureOf(now),
      settings: found.settings.map(figureOf),
      limit_file_lines: lines,
    },
    data: settingsTable("All settings", found.settings, found),
  };
}

function earlyNotes({ chosen, settings }: TimingFound, { step, unit, limit }: TimingTold): string[] {
  const rule = step.earlyVerdict;
  if (!rule || !settings.some(({ early }) => early !== null)) return [];
  const meaning = `Early verdict of the limit file: at most ${percent(rule.falseAccept)} of units exactly at ${formatNumber(limit)} ${unit} are passed early, at most ${percent(rule.falseReject)} failed early. Usual: time from the shut-off to the verdict of half of the good units.`;
  if (!chosen?.early) return [meaning];
  const { toTheEnd, usual_s, decided } = chosen.early;
  return [
    meaning,
    `At the setting chosen a look decides ${percent(decided)} of the good units, half of them by ${formatNumber(usual_s)} s. Looks change R_C from ${percent(toTheEnd.falseAccept)} to ${percent(chosen.falseAccept)}, R_P from ${percent(toTheEnd.falseReject)} to ${percent(chosen.falseReject)}; both are counted in.`,
  ];
}

/** The step with another timing; an early verdict that has no time left is off. */
export function stepAt(step: LeakStep, { settle_s, measure_s }: Timing): LeakStep {
  const early = step.earlyVerdict;
  const hasTime = early !== null && early.measureShortest_s + early.lookEvery_s <= measure_s * (1 + 1e-9);
  return { ...step, settle_s, measureLongest_s: measure_s, earlyVerdict: hasTime ? early : null };
}

function conclusionOf({ settings, chosen, present: now }: TimingFound, told: TimingTold): string {
  if (chosen === null) {
    const [best] = settings
      .filter((it) => !it.passesNobody)
      .sort((a, b) => excess(a, told.risks) - excess(b, told.risks) || a.total_s - b.total_s);
    const nearest = best
      ? ` The nearest, ${timingText(best)}, has ${percent(best.falseAccept)} and ${percent(best.falseReject)}.`
      : "";
    return `No setting up to ${formatNumber(told.longest_s)} s keeps false accepts to ${percent(told.risks.falseAccept)} and false rejects to ${percent(told.risks.falseReject)} of all units.${nearest} Record longer curves, or look for what makes the values scatter.`;
  }
  const spared =
    now === null || now === chosen
      ? ""
      : `, ${formatNumber(Math.abs(now.total_s - chosen.total_s))} s ${chosen.total_s < now.total_s ? "less" : "more"} than now at the longest`;
  const usual = chosen.early ? `, half of the good units within ${formatNumber(chosen.early.usual_s)} s` : "";
  return `${timingText(chosen, true)}${spared}${usual}: ${percent(chosen.falseAccept)} of all units would be bad and accepted, ${percent(chosen.falseReject)} good and rejected.`;
}

/** How far risks are missed, as the larger multiple. */
function excess(found: SettingFound, { falseAccept, falseReject }: Risks): number {
  return (
    found.withoutVerdict +
    Math.max(
      found.falseAccept / Math.max(falseAccept, 1e-12),
      found.falseReject / Math.max(falseReject, 1e-12),
    )
  );
}

function settingsTable(
  caption: string,
  settings: readonly SettingFound[],
  { chosen, present }: TimingFound,
): StudyTable {
  const number = (heading: string) => ({ heading, kind: "number" as const });
  const hasLooks = settings.some(({ early }) => early !== null);
  return {
    caption,
    columns: [
      { heading: "", kind: "text" },
      ...[
        "settle",
        "measure",
        "total",
        ...(hasLooks ? ["usual"] : []),
        "U",
        "scatter",
        "shift",
        "accepts",
      ].map(number),
      ...["R_C %", "R_P %", "at limit", "void"].map(number),
      { heading: "keeps", kind: "text" },
    ],
    rows: settings.map((it) => [
      `${it === chosen ? "*" : ""}${it === present ? "=" : ""}`,
      formatNumber(it.settle_s),
      formatNumber(it.measure_s),
      formatNumber(it.total_s, { significant: 4 }),
      ...(hasLooks ? [it.early ? formatNumber(it.early.usual_s, { significant: 3 }) : ""] : []),
      formatNumber(2 * it.uncertainty, { significant: 3 }),
      ...(it.passesNobody
        ? ["", "", "", "", "", ""]
        : [
            ...[it.spread, it.bias, it.acceptance].map((value) => formatNumber(value, { significant: 3 })),
            ...[it.falseAccept, it.falseReject, it.acceptedAtLimit].map((risk) => percent(risk).slice(0, -2)),
          ]),
      String(it.withoutVerdict),
      it.passesNobody ? "-" : it.keeps ? "yes" : "no",
    ]),
  };
}

function chartsOf(found: TimingFound, { unit, risks }: TimingTold): StudyChart[] {
  const front = found.front.filter((it) => !it.passesNobody);
  const x = { label: "settle and measure, s" };
  const chosen = found.chosen;
  const at = chosen
    ? [
        {
          label: "shortest that keeps the risks",
          along: "x" as const,
          at: chosen.total_s,
          means: "centre" as const,
        },
      ]
    : [];
  const points = (of: (it: SettingFound) => number) => front.map((it) => [it.total_s, of(it)] as const);
  return [
    {
      title: "Uncertainty against time",
      x,
      y: { label: `${unit}` },
      series: [
        {
          name: "U at the limit (k = 2)",
          draw: "line and dots",
          points: points((it) => 2 * it.uncertainty),
        },
        { name: "twice the error found", draw: "line and dots", points: points((it) => 2 * it.error) },
      ],
      levels: at,
    },
    {
      title: "Wrong verdicts against time",
      x,
      y: { label: "% of all units" },
      series: [
        {
          name: "bad and accepted",
          draw: "line and dots",
          points: points((it) => 100 * it.falseAccept),
        },
        {
          name: "good and rejected",
          draw: "line and dots",
          points: points((it) => 100 * it.falseReject),
        },
      ],
      levels: [
        {
          label: "most false accepts",
          along: "y",
          at: 100 * risks.falseAccept,
          means: "specification limit",
        },
        {
          label: "most false rejects",
          along: "y",
          at: 100 * risks.falseReject,
          means: "specification limit",
        },
        ...at,
      ],
    },
  ];
}

function figureOf(it: SettingFound) {
  const known = (value: number) => (it.passesNobody ? null : value);
  return {
    settle_s: it.settle_s,
    measure_s: it.measure_s,
    total_s: it.total_s,
    expanded_uncertainty: 2 * it.uncertainty,
    scatter: known(it.spread),
    shift: known(it.bias),
    error: known(it.error),
    acceptance_limit: known(it.acceptance),
    R_C: known(it.falseAccept),
    R_P: known(it.falseReject),
    accepted_at_limit: known(it.acceptedAtLimit),
    early_verdict: it.early && {
      usual_s: it.early.usual_s,
      decided: it.early.decided,
      R_C_to_the_end: it.early.toTheEnd.falseAccept,
      R_P_to_the_end: it.early.toTheEnd.falseReject,
    },
    without_verdict: it.withoutVerdict,
    passes_nobody: it.passesNobody,
    keeps: it.keeps,
  };
}

function timingText({ settle_s, measure_s, total_s }: SettingFound, isOrder = false): string {
  const times = `${formatNumber(settle_s)} s and measure ${isOrder ? "at most " : ""}${formatNumber(measure_s)} s`;
  return isOrder ? `Settle ${times}, ${formatNumber(total_s)} s in all` : `settle ${times}`;
}

/** @example percent(0.00123) // "0.12 %" */
function percent(part: number): string {
  const shown = 100 * part;
  return `${shown > 0 && shown < 1e-4 ? "<0.0001" : formatNumber(shown, { significant: 2 })} %`;
}
