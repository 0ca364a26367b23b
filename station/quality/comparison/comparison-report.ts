import { formatNumber } from "../../../limits/print-quantity.ts";
import type { Specification } from "../capability/specification.ts";
import {
  type StudyAnswer,
  type StudyChart,
  type StudyReport,
  type StudyTable,
  tableOnDemand,
} from "../study-report.ts";
import { type ComparedGroup, type Comparison, RISK } from "./comparison.ts";
import type { Pair } from "./pairwise.ts";

export interface ComparisonReported {
  /** What was measured, where it is known: "leak rate of TUB-12". */
  readonly subject?: string | undefined;
  /** Of the values. */
  readonly unit?: string | undefined;
  /** What a group is: "cavity", "lot". */
  readonly by?: string | undefined;
}

/** Rows of a table of pairs at a terminal that someone will still read. */
const MOST_PAIRS = 20;
/** Of its limit in its own standard deviations, where the worst group does no harm: a Ppk of 1.33. */
const FAR_ENOUGH = 4;
/** A mean of fewer is not worth much (common practice, no source). */
const FEW = 10;

export function comparisonReport(
  groups: ReadonlyMap<string, readonly number[]>,
  specification: Specification,
  found: Comparison,
  { subject, unit, by = "group" }: ComparisonReported = {},
): StudyReport {
  const count = [...groups.values()].reduce((sum, { length }) => sum + length, 0);
  return {
    title: `Comparison by ${by}`,
    question: "Are the groups alike?",
    subject: `${subject === undefined ? "" : `${subject}, `}${count} values of ${groups.size}, by ${by}`,
    ...judged(found, specification, by, unit),
    bands: [
      {
        text: `alike unless the means differ at p below ${RISK}; pairs by ${found.method}, 95 % for all of them together`,
        source: "NIST/SEMATECH e-Handbook 7.4.3 and 7.4.7.1",
      },
    ],
    notes: notes(found, specification, by),
    tables: [groupTable(found, by, unit), testTable(found), pairTable(found, by, unit)],
    charts: [chart(groups, specification, found, by, unit)],
    figures: figuresOf(found),
    data: tableOnDemand(
      {
        caption: "Values",
        columns: [
          { heading: by, kind: "text" },
          { heading: unit ?? "value", kind: "number" },
        ],
      },
      () => [...groups].flatMap(([name, values]) => values.map((value) => [name, formatNumber(value)])),
    ),
  };
}

function judged(
  found: Comparison,
  specification: Specification,
  by: string,
  unit: string | undefined,
): { answer: StudyAnswer; conclusion: string } {
  const [worst] = found.groups;
  if (!worst) throw new RangeError("A comparison has groups.");
  const p = `p ${probability(found.p)}`;
  if (found.p >= RISK) {
    return {
      answer: "yes",
      conclusion: `No difference by ${by} shows beyond what chance gives (${p})${limitWords(worst, by, unit)}.`,
    };
  }
  const apart = found.pairs.filter((pair) => pair.a === worst.name && isApart(pair));
  const [next] = apart;
  const isHarmless = found.groups.every((it) => it.distance_s !== null && it.distance_s >= FAR_ENOUGH);
  const word = hasLimit(specification) ? "worse" : "higher";
  const conclusion = next
    ? `${nameOf(by, worst.name)} is ${word} than ${others(found, apart)} by ${size(next)}${withUnit(unit)}`
    : found.pairs.some(isApart)
      ? `The means differ by ${by} (${p}), and no single one is ${word} than the rest: see the pairs`
      : `The means differ by ${by} (${p}), and it takes more values to say which`;
  return {
    answer: isHarmless ? "marginal" : "no",
    conclusion: `${conclusion}${limitWords(worst, by, unit)}.`,
  };
}

function limitWords(worst: ComparedGroup, by: string, unit: string | undefined): string {
  if (worst.distance === null) return "";
  const far = formatNumber(Math.abs(worst.distance), { significant: 3 });
  const where =
    worst.distance < 0
      ? `its mean is ${far}${withUnit(unit)} beyond the limit`
      : `its mean is ${far}${withUnit(unit)} from the limit${worst.distance_s === null ? "" : `, ${formatNumber(worst.distance_s, { decimals: 1 })} of its standard deviations`}`;
  return `; nearest its limit is ${by} ${worst.name}: ${where}`;
}

/** The nearest of those it stands apart from comes first, and how much is said of that one. */
function others({ groups }: Comparison, apart: readonly Pair[]): string {
  const [nearest] = apart.map(({ b }) => b);
  if (apart.length === 1) return `${nearest}`;
  const all = apart.length === groups.length - 1 ? "every other" : list(apart.map(({ b }) => b));
  return `${all}, and than the nearest of them, ${nearest},`;
}

/** How much worse, and between which bounds, as positive numbers. */
function size({ difference, lower, upper }: Pair): string {
  const ends = [Math.abs(lower), Math.abs(upper)].sort((a, b) => a - b).map((it) => text(it));
  return `${text(Math.abs(difference))} (95 %: ${ends.join(" to ")})`;
}

function isApart({ lower, upper }: Pair): boolean {
  return lower > 0 || upper < 0;
}

function notes(found: Comparison, specification: Specification, by: string): string[] {
  const { groups, variancesDiffer, welch, variances } = found;
  const single = groups.filter(({ sample }) => sample.n === 1).map(({ name }) => name);
  const few = groups.filter(({ sample }) => sample.n < FEW && sample.n > 1).length;
  const still = groups.filter(({ sample }) => sample.n > 1 && sample.s === 0).map(({ name }) => name);
  const spread = groups.toSorted((a, b) => b.sample.s - a.sample.s);
  const [widest, narrowest] = [spread[0], spread.findLast(({ sample }) => sample.n > 1)];
  return [
    ...(variancesDiffer
      ? [
          `The scatter differs (Brown and Forsythe, p ${probability(variances?.p ?? 0)}), most in ${by} ${widest?.name}: ${text(widest?.sample.s ?? 0)} against ${text(narrowest?.sample.s ?? 0)} in ${narrowest?.name}. Welch's test and the pairs of Games and Howell hold; analysis of variance does not.`,
        ]
      : []),
    ...(still.length > 0
      ? [
          `Without any scatter: ${list(still)}. Look whether the gauge reads finely enough; Welch's test can't be made.`,
        ]
      : []),
    ...(single.length > 0
      ? [
          `Of one value only: ${list(single)}. ${variancesDiffer || welch ? "They have no part in Welch's test and in that of the scatter" : "They lean on the others' scatter"}.`,
        ]
      : []),
    ...(few > 0
      ? [
          `Fewer than ${FEW} values in ${few} of ${groups.length}: only large differences show (common practice, no source).`,
        ]
      : []),
    ...(hasLimit(specification)
      ? []
      : [
          "Without --lower and --upper, the highest mean stands first; give the limit to see which is worse.",
        ]),
  ];
}

function groupTable({ groups }: Comparison, by: string, unit: string | undefined): StudyTable {
  const hasDistance = groups.some(({ distance }) => distance !== null);
  return {
    caption: `Means${withUnit(unit) && `, in ${unit}`}, ${hasDistance ? "nearest its limit" : "the highest"} first`,
    columns: [
      { heading: by, kind: "text" },
      { heading: "values", kind: "number" },
      { heading: "mean", kind: "number" },
      { heading: "95 % from", kind: "number" },
      { heading: "to", kind: "number" },
      { heading: "s", kind: "number" },
      ...(hasDistance
        ? ([
            { heading: "to limit", kind: "number" },
            { heading: "in s", kind: "number" },
          ] as const)
        : []),
    ],
    rows: groups.map(({ name, sample, mean_CI95, distance, distance_s }) => [
      name,
      String(sample.n),
      text(sample.mean),
      ...(mean_CI95?.map(text) ?? ["", ""]),
      sample.n > 1 ? text(sample.s) : "",
      ...(hasDistance
        ? [
            distance === null ? "" : text(distance),
            distance_s === null ? "" : formatNumber(distance_s, { decimals: 1 }),
          ]
        : []),
    ]),
  };
}

function testTable({ anova, welch, variances }: Comparison): StudyTable {
  const row = (name: string, F: number, df1: number, df2: number, p: number) => [
    name,
    formatNumber(F, { significant: 4 }),
    formatNumber(df1),
    formatNumber(df2, { significant: 4 }),
    probability(p),
  ];
  return {
    caption: "Tests",
    columns: [
      { heading: "test", kind: "text" },
      { heading: "F", kind: "number" },
      { heading: "df", kind: "number" },
      { heading: "df within", kind: "number" },
      { heading: "p", kind: "number" },
    ],
    rows: [
      row("means alike: analysis of variance", anova.F, anova.df_between, anova.df_within, anova.p),
      ...(welch ? [row("means alike: Welch", welch.F, welch.df1, welch.df2, welch.p)] : []),
      ...(variances
        ? [row("scatter alike: Brown and Forsythe", variances.F, variances.df1, variances.df2, variances.p)]
        : []),
    ],
  };
}

function pairTable({ pairs, method }: Comparison, by: string, unit: string | undefined): StudyTable {
  const shown = pairs.toSorted((a, b) => a.p - b.p).slice(0, MOST_PAIRS);
  const rest = pairs.length > shown.length ? `, the ${shown.length} plainest of ${pairs.length}` : "";
  return {
    caption: `Pairs, ${method}${rest}`,
    columns: [
      { heading: by, kind: "text" },
      { heading: "less", kind: "text" },
      { heading: unit === undefined ? "difference" : `difference, ${unit}`, kind: "number" },
      { heading: "95 % from", kind: "number" },
      { heading: "to", kind: "number" },
      { heading: "p", kind: "number" },
    ],
    rows: shown.map((pair) => [
      pair.a,
      pair.b,
      text(pair.difference),
      text(pair.lower),
      text(pair.upper),
      probability(pair.p),
    ]),
  };
}

function chart(
  groups: ReadonlyMap<string, readonly number[]>,
  { lower, upper }: Specification,
  { groups: ranked }: Comparison,
  by: string,
  unit: string | undefined,
): StudyChart {
  const names = ranked.map(({ name }) => name);
  const spread = (k: number, i: number, n: number) => k - 0.3 + (0.2 * (i + 0.5)) / n;
  return {
    title: `Values and means by ${by}`,
    x: { label: by, names },
    y: { label: unit === undefined ? "value" : `value, ${unit}` },
    series: [
      {
        name: "values",
        draw: "dots",
        points: names.flatMap((name, k) => {
          const values = groups.get(name) ?? [];
          return values.map((value, i) => [spread(k, i, values.length), value] as const);
        }),
      },
      { name: "means", draw: "dots", points: ranked.map(({ sample }, k) => [k + 0.15, sample.mean]) },
      {
        name: "95 % intervals of the means",
        draw: "intervals",
        points: ranked.flatMap(({ mean_CI95 }, k) => mean_CI95?.map((end) => [k + 0.15, end] as const) ?? []),
      },
    ],
    levels: [
      ...(lower === undefined
        ? []
        : [{ label: "lower limit", along: "y", at: lower, means: "specification limit" } as const]),
      ...(upper === undefined
        ? []
        : [{ label: "upper limit", along: "y", at: upper, means: "specification limit" } as const]),
    ],
  };
}

function figuresOf(found: Comparison): StudyReport["figures"] {
  const { anova, welch, variances } = found;
  return {
    ...anova,
    MS_between: anova.SS_between / anova.df_between,
    MS_within: anova.SS_within / anova.df_within,
    welch: welch && { ...welch },
    brown_forsythe: variances && { ...variances },
    variances_differ: found.variancesDiffer,
    post_hoc: found.method,
    worst: found.groups[0]?.name ?? null,
    groups: found.groups.map(({ name, sample, mean_CI95, distance, distance_s }) => ({
      group: name,
      n: sample.n,
      mean: sample.mean,
      s: sample.n > 1 ? sample.s : null,
      mean_CI95: mean_CI95 && [...mean_CI95],
      distance_to_limit: distance,
      distance_to_limit_s: distance_s,
    })),
    pairs: found.pairs.map((pair) => ({ ...pair })),
  };
}

function hasLimit({ lower, upper }: Specification): boolean {
  return lower !== undefined || upper !== undefined;
}

function nameOf(by: string, name: string): string {
  return `${by.charAt(0).toUpperCase()}${by.slice(1)} ${name}`;
}

function list(names: readonly string[]): string {
  return names.length < 2 ? names.join("") : `${names.slice(0, -1).join(", ")} and ${names.at(-1)}`;
}

function withUnit(unit: string | undefined): string {
  return unit === undefined ? "" : ` ${unit}`;
}

function text(value: number): string {
  return formatNumber(value, { significant: 4 });
}

function probability(p: number): string {
  return p < 0.0001 ? "< 0.0001" : formatNumber(p, { decimals: 4 });
}
