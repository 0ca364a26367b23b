import { formatNumber } from "../../../limits/print-quantity.ts";
import type {
  AcceptanceBand,
  Figure,
  StudyAnswer,
  StudyChart,
  StudyReport,
  StudyTable,
} from "../study-report.ts";
import type { BiasAt, BiasStudy, Coefficient, Linearity, ReferredReading } from "./linearity.ts";
import type { Interval } from "./mls-interval.ts";
import { rangeBias } from "./range-bias.ts";

const FEWEST = 10;

const BANDS: readonly AcceptanceBand[] = [
  {
    text: `bias: zero lies in its 95 % interval, from ${FEWEST} readings or more at each reference`,
    source: "AIAG, Measurement Systems Analysis, 4th ed., from memory",
  },
  {
    text: "linearity: the slope does not differ from zero at 95 %, and zero lies within the line's 95 % band at every reference",
    source: "AIAG, Measurement Systems Analysis, 4th ed., from memory",
  },
];

export interface ReportedBias {
  readonly subject?: string | undefined;
  /** Of the values. */
  readonly unit?: string | undefined;
  /** Width that the biases are also told in; the answer does not go by it. */
  readonly tolerance?: number | undefined;
  /** Also tell each bias with its spread from the range; the answer does not go by it. */
  readonly rangeEstimate?: boolean | undefined;
}

export function biasReport(
  readings: readonly ReferredReading[],
  found: BiasStudy,
  reported: ReportedBias = {},
): StudyReport {
  const { subject, unit } = reported;
  const { references, linearity } = found;
  const byRange = reported.rangeEstimate ? rangeEstimates(readings, references) : [];
  const count = references.length === 1 ? "1 reference" : `${references.length} references`;
  return {
    title: "Bias and linearity",
    question: "Does the gauge read true?",
    subject: `${subject === undefined ? "" : `${subject}, `}${readings.length} readings at ${count}`,
    ...judged(found, unit),
    bands: linearity ? BANDS : BANDS.slice(0, 1),
    notes: notes(found, reported),
    tables: [
      biasTable(references, reported),
      ...(byRange.length > 0 ? [rangeTable(byRange)] : []),
      ...(linearity ? [lineTable(linearity)] : []),
    ],
    charts: [biasChart(readings, found, unit)],
    figures: {
      ...figuresOf(found, reported),
      ...(byRange.length > 0
        ? { range_estimate: byRange.map(({ CI95, ...of }) => ({ ...of, CI95: pair(CI95) })) }
        : {}),
    },
    data: {
      caption: "Readings",
      columns: ["reference", "value"].map((name) => ({
        heading: unit === undefined ? name : `${name}, ${unit}`,
        kind: "number",
      })),
      rows: [...readings]
        .sort((a, b) => a.reference - b.reference)
        .map(({ reference, value }) => [formatNumber(reference), formatNumber(value)]),
    },
  };
}

function judged(
  { references, linearity }: BiasStudy,
  unit: string | undefined,
): { readonly answer: StudyAnswer; readonly conclusion: string } {
  const named = (value: number) =>
    unit === undefined ? formatNumber(value) : `${formatNumber(value)} ${unit}`;
  const biased = references.filter(({ isSignificant }) => isSignificant);
  const where = biased.map(({ reference }) => named(reference)).join(", ");
  if (linearity?.slope.isSignificant) {
    const goes = linearity.slope.value > 0 ? "rises" : "falls";
    return {
      answer: "no",
      conclusion: `The gauge is not linear: its bias ${goes} as the value grows${biased.length > 0 ? `, and it is biased at ${where}` : ""}. Adjust it, or look for the cause, and study it again.`,
    };
  }
  if (biased.length > 0) {
    return {
      answer: "no",
      conclusion: `The gauge is biased at ${where}: it reads off the reference by more than chance explains. Adjust it, and study it again.`,
    };
  }
  if (linearity && !linearity.isZeroInBand) {
    return {
      answer: "no",
      conclusion:
        "All references together, the gauge reads off by more than chance explains, though no single one shows it. Adjust it, and study it again.",
    };
  }
  const few = references.filter(({ n }) => n < FEWEST);
  if (few.length > 0) {
    return {
      answer: "none",
      conclusion: `No bias shows, but there are fewer than ${FEWEST} readings at ${few.map(({ reference }) => named(reference)).join(", ")}: too few to say that there is none.`,
    };
  }
  if (references.every(({ s }) => s === 0)) {
    return {
      answer: "none",
      conclusion:
        "Repeated readings never differ and are at the reference: no bias shows, but the gauge may be too coarse to show one.",
    };
  }
  return {
    answer: "yes",
    conclusion: linearity
      ? "No bias and no change of it over the range shows beyond chance."
      : "No bias shows beyond chance at this reference.",
  };
}

function notes({ references, linearity }: BiasStudy, { tolerance }: ReportedBias): string[] {
  const few = references.some(({ n }) => n < FEWEST);
  const flat = references.filter(({ s, n }) => n > 1 && s === 0);
  return [
    ...(references.length > 1 && references.length < 5
      ? ["AIAG asks for 5 references or more over the gauge's range (from memory)."]
      : []),
    ...(references.length === 1 ? ["One reference: how the bias changes over the range can't be said."] : []),
    ...(few ? [`AIAG asks for ${FEWEST} readings or more at each reference (from memory).`] : []),
    ...(references.length > 1
      ? ["Each bias is tested by itself: of 20 references without bias, one shows some by chance."]
      : []),
    ...(flat.length > 0
      ? [
          `At ${flat.map(({ reference }) => formatNumber(reference)).join(", ")} readings never differ: t can't be had there.`,
        ]
      : []),
    ...(linearity && linearity.s === 0 ? ["All readings lie on one line: its coefficients have no t."] : []),
    "Repeatability comes first: a bias lost in a large spread shows in no test.",
    ...(tolerance === undefined
      ? []
      : ["The answer goes by what is beyond chance; the part of the tolerance says whether it matters."]),
  ];
}

function biasTable(references: readonly BiasAt[], { unit, tolerance }: ReportedBias): StudyTable {
  const headed = (name: string) => (unit === undefined ? name : `${name}, ${unit}`);
  return {
    caption: "Bias at each reference",
    columns: [
      headed("reference"),
      "n",
      headed("mean"),
      headed("bias"),
      headed("95 % interval"),
      headed("s"),
      "t",
      "p",
      ...(tolerance === undefined ? [] : ["% tolerance"]),
      "beyond chance",
    ].map((heading) => ({ heading, kind: heading === "beyond chance" ? "text" : "number" })),
    rows: references.map(({ reference, n, mean, bias, CI95, s, t, p, isSignificant }) => [
      formatNumber(reference),
      String(n),
      formatNumber(mean, { significant: 6 }),
      shown(bias),
      CI95 ? `${shown(CI95.lower)} to ${shown(CI95.upper)}` : "",
      shown(s),
      shown(t),
      chance(p),
      ...(tolerance === undefined ? [] : [formatNumber((100 * Math.abs(bias)) / tolerance, { decimals: 2 })]),
      isSignificant === null ? "" : isSignificant ? "yes" : "no",
    ]),
  };
}

function rangeEstimates(readings: readonly ReferredReading[], references: readonly BiasAt[]) {
  return references.map(({ reference }) => {
    const own = readings.filter((reading) => reading.reference === reference);
    return {
      reference,
      ...rangeBias(
        own.map(({ value }) => value),
        reference,
      ),
    };
  });
}

function rangeTable(byRange: ReturnType<typeof rangeEstimates>): StudyTable {
  return {
    caption: "Bias with its spread from the range (AIAG, 3rd ed.); the answer goes by the standard deviation",
    columns: ["reference", "sigma by range", "degrees of freedom", "t", "p", "95 % interval"].map(
      (heading) => ({
        heading,
        kind: "number",
      }),
    ),
    rows: byRange.map(({ reference, sigma_r, df, t, p, CI95 }) => [
      formatNumber(reference),
      shown(sigma_r),
      shown(df, 3),
      shown(t),
      chance(p),
      `${shown(CI95.lower)} to ${shown(CI95.upper)}`,
    ]),
  };
}

function lineTable({ slope, intercept, s, r2, df }: Linearity): StudyTable {
  const row = (name: string, { value, error, t, p, CI95 }: Coefficient) => [
    name,
    shown(value, 5),
    shown(error),
    `${shown(CI95.lower)} to ${shown(CI95.upper)}`,
    shown(t),
    chance(p),
  ];
  return {
    caption: `Linearity: bias = intercept + slope x reference, s = ${shown(s)} (${df} degrees of freedom)${r2 === null ? "" : `, R2 = ${formatNumber(100 * r2, { decimals: 1 })} %`}`,
    columns: ["coefficient", "value", "std error", "95 % interval", "t", "p"].map((heading, k) => ({
      heading,
      kind: k === 0 ? "text" : "number",
    })),
    rows: [row("slope", slope), row("intercept", intercept)],
  };
}

/** Points a band is drawn through. */
const STEPS = 40;

function biasChart(
  readings: readonly ReferredReading[],
  { references, linearity }: BiasStudy,
  unit: string | undefined,
): StudyChart {
  const headed = (name: string) => (unit === undefined ? name : `${name}, ${unit}`);
  const [least, most] = [references[0]?.reference ?? 0, references.at(-1)?.reference ?? 0];
  const along = Array.from({ length: STEPS + 1 }, (_, k) => least + ((most - least) * k) / STEPS);
  const curve = (
    name: string,
    of: (band: ReturnType<Linearity["bandAt"]>) => number,
    like: { readonly like?: string } = {},
  ) =>
    linearity
      ? [
          {
            name,
            draw: "line" as const,
            ...like,
            points: along.map((x) => [x, of(linearity.bandAt(x))] as const),
          },
        ]
      : [];
  return {
    title: linearity ? "Bias over the reference, with its line and 95 % band" : "Bias of the readings",
    x: { label: headed("reference") },
    y: { label: headed("bias") },
    series: [
      {
        name: "reading",
        draw: "dots",
        points: readings.map(({ reference, value }) => [reference, value - reference] as const),
      },
      {
        name: "mean bias",
        draw: "dots",
        points: references.map(({ reference, bias }) => [reference, bias] as const),
      },
      ...curve("line", ({ fitted }) => fitted),
      ...curve("95 % band, lower", ({ lower }) => lower),
      ...curve("95 % band, upper", ({ upper }) => upper, { like: "95 % band, lower" }),
    ],
    levels: [{ label: "no bias", along: "y", at: 0, means: "centre" }],
  };
}

function figuresOf(
  { references, linearity }: BiasStudy,
  { tolerance }: ReportedBias,
): Record<string, Figure> {
  const one = (at: BiasAt): Record<string, Figure> => ({
    reference: at.reference,
    n: at.n,
    mean: at.mean,
    bias: at.bias,
    s: at.s,
    t: at.t,
    df: at.df,
    p: at.p,
    CI95: pair(at.CI95),
    bias_is_significant: at.isSignificant,
    ...(tolerance === undefined ? {} : { pct_tolerance_bias: (100 * Math.abs(at.bias)) / tolerance }),
  });
  const [only, ...others] = references;
  return {
    // A study at one reference is read without a list.
    ...(only && others.length === 0 ? one(only) : {}),
    references: references.map(one),
    mean_bias: references.map(({ bias }) => bias),
    ...(linearity
      ? {
          slope: linearity.slope.value,
          intercept: linearity.intercept.value,
          s: linearity.s,
          df: linearity.df,
          r2: linearity.r2,
          t_slope: linearity.slope.t,
          p_slope: linearity.slope.p,
          slope_CI95: pair(linearity.slope.CI95),
          t_intercept: linearity.intercept.t,
          p_intercept: linearity.intercept.p,
          intercept_CI95: pair(linearity.intercept.CI95),
          linearity_is_significant: linearity.slope.isSignificant,
          zero_within_bands: linearity.isZeroInBand,
          bands: references.map(({ reference }) => {
            const { fitted, lower, upper } = linearity.bandAt(reference);
            return { reference, fitted, lower, upper, zero_within: lower <= 0 && upper >= 0 };
          }),
        }
      : {}),
  };
}

function pair(interval: Interval | null): Figure {
  return interval && [interval.lower, interval.upper];
}

function shown(value: number | null, significant = 4): string {
  return value === null ? "" : formatNumber(value, { significant });
}

function chance(p: number | null): string {
  if (p === null) return "";
  return p < 0.0001 ? "< 0.0001" : formatNumber(p, { decimals: 4 });
}
