import { formatMeasured, formatNumber } from "../../../limits/print-quantity.ts";
import type { AcceptanceBand, StudyAnswer, StudyChart, StudyReport, StudyTable } from "../study-report.ts";
import type { Type1, Type1Settings } from "./type1.ts";

const LEAST = 1.33;
const FEWEST = 25;
const ADVISED = 50;

const BAND: AcceptanceBand = {
  text: `Cg and Cgk ${LEAST} or more, from ${FEWEST} readings or more, better ${ADVISED}`,
  source: "common practice, no one source",
};

export interface ReportedReadings {
  /** What was measured, where it is known. */
  readonly subject?: string | undefined;
  /** Of the values. */
  readonly unit?: string | undefined;
}

/** @param values in the order they were taken */
export function type1Report(
  values: readonly number[],
  found: Type1,
  settings: Type1Settings,
  { subject, unit }: ReportedReadings = {},
): StudyReport {
  const { reference, tolerance, spread, share } = settings;
  const inUnit = (value: number) => withUnit(formatNumber(value), unit);
  return {
    title: "Type-1 gauge study",
    question: "Is the gauge fit for this tolerance?",
    subject: `${subject === undefined ? "" : `${subject}, `}${values.length} readings of one piece of ${inUnit(reference)}, tolerance ${inUnit(tolerance)}`,
    ...judged(found, settings),
    bands: [BAND],
    notes: notes(found, settings, unit),
    tables: [resultTable(found, settings, unit)],
    charts: [runChart(values, found, settings, unit)],
    figures: {
      n: found.n,
      reference,
      tolerance,
      spread,
      share_pct: share,
      mean: found.mean,
      s: found.s,
      Cg: found.Cg,
      Cg_CI95: found.Cg_CI95 && [found.Cg_CI95.lower, found.Cg_CI95.upper],
      Cgk: found.Cgk,
      pct_repeatability: found.pct_repeatability,
      pct_repeatability_bias: found.pct_repeatability_bias,
      bias: found.bias,
      t: found.t,
      df: found.df,
      p: found.p,
      bias_CI95: found.CI95 && [found.CI95.lower, found.CI95.upper],
      bias_is_significant: found.isSignificant,
    },
    data: {
      caption: "Readings, as taken",
      columns: [{ heading: unit === undefined ? "value" : `value, ${unit}`, kind: "number" }],
      rows: values.map((value) => [formatNumber(value)]),
    },
  };
}

function judged(
  found: Type1,
  { share, tolerance }: Type1Settings,
): { answer: StudyAnswer; conclusion: string } {
  const { Cg, Cgk, n, bias } = found;
  if (Cg === null || Cgk === null) {
    return Math.abs(bias) > (share / 200) * tolerance
      ? {
          answer: "no",
          conclusion: `All readings are the same and off the reference by more than ${share / 2} % of the tolerance: the gauge is biased, and its spread does not show.`,
        }
      : {
          answer: "none",
          conclusion:
            "All readings are the same, so the gauge's spread does not show: look at its resolution, and whether the piece was really put on and measured anew each time.",
        };
  }
  const text = (value: number) => formatMeasured({ value, comparedWith: [LEAST] }).value;
  const indices = `Cg is ${text(Cg)} and Cgk ${text(Cgk)}`;
  if (Cg < LEAST)
    return {
      answer: "no",
      conclusion: `${indices}: the gauge scatters too much for this tolerance.`,
    };
  if (Cgk < LEAST)
    return {
      answer: "no",
      conclusion: `${indices}: the gauge repeats well enough, and stands too far off the reference. Adjust it, and study it again.`,
    };
  if (n < FEWEST)
    return {
      answer: "none",
      conclusion: `${indices}, which would do, but from ${n} readings only: take ${FEWEST}, better ${ADVISED}.`,
    };
  return { answer: "yes", conclusion: `${indices}: the gauge is fit for this tolerance, on this one piece.` };
}

function notes(found: Type1, { spread, share }: Type1Settings, unit: string | undefined): string[] {
  const { n, bias, p, isSignificant, Cgk } = found;
  const off = withUnit(formatNumber(bias, { significant: 3 }), unit);
  return [
    `Cg = ${share} % of the tolerance / (${spread} s); Cgk = (${share / 2} % of the tolerance - |bias|) / (${spread / 2} s). Houses differ here: ${spread === 6 ? "some take 4 s (--spread 4)" : "most take 6 s (--spread 6)"}.`,
    ...(n < ADVISED
      ? [`${n} readings: ${FEWEST} are the least usual, ${ADVISED} the advised number (common practice).`]
      : []),
    isSignificant
      ? `The bias of ${off} is more than chance (${p === 0 ? "the readings never differ" : `p ${shownProbability(p ?? 0)}`}).`
      : "The bias is no more than chance explains.",
    ...(Cgk !== null && Cgk < 0
      ? ["Cgk is below zero: the bias alone is more than its share of the tolerance."]
      : []),
  ];
}

function resultTable(found: Type1, { share, spread }: Type1Settings, unit: string | undefined): StudyTable {
  const number = (value: number | null, significant = 4) =>
    value === null ? "-" : formatNumber(value, { significant });
  const own = (text: string) => (text === "-" ? text : withUnit(text, unit));
  const between = ({ lower, upper }: { lower: number; upper: number }) =>
    `${number(lower)} to ${number(upper)}`;
  return {
    caption: "Spread and bias",
    columns: [
      { heading: "figure", kind: "text" },
      { heading: "value", kind: "number" },
      { heading: "95 % interval", kind: "number" },
    ],
    rows: [
      ["mean", own(number(found.mean, 7)), ""],
      ["standard deviation s", own(number(found.s)), ""],
      ["bias", own(number(found.bias)), found.CI95 ? own(between(found.CI95)) : ""],
      [`t (${found.df} degrees of freedom)`, number(found.t), ""],
      ["p", found.p === null ? "-" : shownProbability(found.p), ""],
      ["Cg", number(found.Cg), found.Cg_CI95 ? between(found.Cg_CI95) : ""],
      ["Cgk", number(found.Cgk), ""],
      [
        `${spread} s in the tolerance (at most ${formatNumber(share / LEAST, { significant: 3 })})`,
        `${number(found.pct_repeatability)} %`,
        "",
      ],
    ],
  };
}

function runChart(
  values: readonly number[],
  { mean }: Type1,
  { reference, tolerance, share }: Type1Settings,
  unit: string | undefined,
): StudyChart {
  const room = (share / 200) * tolerance;
  return {
    title: "Readings in the order they were taken",
    x: { label: "reading" },
    y: { label: unit === undefined ? "value" : `value, ${unit}` },
    series: [
      { name: "reading", draw: "line and dots", points: values.map((value, k) => [k + 1, value] as const) },
    ],
    levels: [
      {
        label: `+${share / 2} % of tolerance`,
        along: "y",
        at: reference + room,
        means: "specification limit",
      },
      { label: "reference", along: "y", at: reference, means: "centre" },
      { label: "mean", along: "y", at: mean, means: "centre" },
      {
        label: `-${share / 2} % of tolerance`,
        along: "y",
        at: reference - room,
        means: "specification limit",
      },
    ],
  };
}

function withUnit(text: string, unit: string | undefined): string {
  return unit === undefined ? text : `${text} ${unit}`;
}

/** Small ones rest on tails that nobody knows so well. */
function shownProbability(p: number): string {
  return p < 0.0001 ? "< 0.0001" : formatNumber(p, { significant: 3 });
}
