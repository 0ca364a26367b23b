import { formatNumber } from "../../../limits/print-quantity.ts";
import { LEAST_P } from "../distributions/choose.ts";
import { exactInterval } from "../exact-interval.ts";
import {
  type Figure,
  type StudyAnswer,
  type StudyReport,
  type StudyTable,
  tableOnDemand,
} from "../study-report.ts";
import type { Beyond, Capability, CapabilityData, CapabilitySettings } from "./capability.ts";
import { capabilityCharts } from "./capability-charts.ts";
import { capabilityNotes, FEW, methodWords, withinWords } from "./capability-notes.ts";
import type { Index, Indices } from "./normal-indices.ts";
import { BEYOND } from "./percentile-indices.ts";

export interface CapabilityReported {
  /** What was measured, where it is known: "leak rate of TUB-12". */
  readonly subject?: string | undefined;
  /** Of the values. */
  readonly unit?: string | undefined;
  /** The index that the process must reach; 1.33 unless said otherwise. */
  readonly goal?: number | undefined;
}

const GOAL = 1.33;
const LEAST = 1;

export function capabilityReport(
  data: CapabilityData,
  settings: CapabilitySettings,
  found: Capability,
  { subject, unit, goal = GOAL }: CapabilityReported = {},
): StudyReport {
  const limits = [
    ...(settings.lower === undefined ? [] : [`lower limit ${withUnit(settings.lower, unit)}`]),
    ...(settings.upper === undefined ? [] : [`upper limit ${withUnit(settings.upper, unit)}`]),
  ];
  const groups = found.subgroupCount === null ? "" : ` in ${found.subgroupCount} subgroups`;
  return {
    title: "Process capability",
    question: "Is the process good?",
    subject: `${subject === undefined ? "" : `${subject}, `}${found.sample.n} values${groups}, ${limits.join(", ")}`,
    ...judged(found, goal),
    bands: [
      {
        text: `Ppk ${goal} and more: capable; ${LEAST} to ${goal}: barely; below: not capable`,
        source: "common practice; rejects of an index: NIST/SEMATECH e-Handbook 6.1.6",
      },
    ],
    notes: capabilityNotes(found, settings),
    tables: [valuesTable(found, unit), indexTable(found), beyondTable(found), candidatesTable(found)].flatMap(
      (table) => (table && table.rows.length > 0 ? [table] : []),
    ),
    charts: capabilityCharts(data.values, settings, found, unit),
    figures: figuresOf(found, settings),
    data: tableOnDemand(
      {
        caption: "Values, in the order taken",
        columns: [
          { heading: "number", kind: "number" },
          ...(data.subgroups ? [{ heading: "subgroup", kind: "text" } as const] : []),
          { heading: unit === undefined ? "value" : `value, ${unit}`, kind: "number" },
        ],
      },
      () =>
        data.values.map((value, k) => [
          String(k + 1),
          ...(data.subgroups ? [data.subgroups[k] ?? ""] : []),
          formatNumber(value),
        ]),
    ),
  };
}

function judged(found: Capability, goal: number): { answer: StudyAnswer; conclusion: string } {
  const { performance, stability, chosen, sample } = found;
  if (!performance) {
    const clearly = [found.below, found.above].filter((it) => it && surelyBeyond(it, sample.n));
    if (clearly.length > 0) {
      return {
        answer: "no",
        conclusion: `The process is not capable: no distribution describes these values, but ${clearly.reduce((sum, it) => sum + (it?.observed ?? 0), 0)} of ${sample.n} lie beyond the limit, more than a Ppk of ${LEAST} would have.`,
      };
    }
    return {
      answer: "none",
      conclusion: `No distribution describes these values, and ${sample.n} of them are too few to go by themselves: no index is given.`,
    };
  }
  const { value, interval } = performance.k;
  const index = `Ppk is ${short(value)}${interval ? ` (95 % interval ${short(interval[0])} to ${short(interval[1])})` : ""}`;
  const rejects = expectedWords(found);
  if (sample.n < FEW) {
    return {
      answer: "none",
      conclusion: `Too little data to say: ${sample.n} values, of ${FEW} that it takes at least; by these ${index}${rejects}.`,
    };
  }
  const band = value >= goal ? "yes" : value >= LEAST ? "marginal" : "no";
  const words = { yes: "capable", marginal: "barely capable", no: "not capable" }[band];
  const doubts = [
    ...(stability?.inControl === false
      ? ["it did not stay where it was, so that what it will do next is not known: find the cause first"]
      : []),
    ...(chosen?.goodness && chosen.goodness.p < LEAST_P
      ? ["the distribution does not describe the values"]
      : []),
    ...(band === "yes" && interval && interval[0] < goal
      ? [`${sample.n} values can't rule out a Ppk of ${short(Math.max(interval[0], 0))}`]
      : []),
  ];
  const isDoubtful = stability?.inControl === false || (chosen?.goodness && chosen.goodness.p < LEAST_P);
  return {
    answer: band === "yes" && isDoubtful ? "marginal" : band,
    conclusion: `The process is ${words}: ${index}${rejects}${doubts.length > 0 ? `; but ${doubts.join(", and ")}` : ""}.`,
  };
}

/** More than a Ppk of 1 has beyond a limit, with 97.5 % certainty. */
function surelyBeyond({ observed }: Beyond, n: number): boolean {
  return exactInterval(observed, n).lower > BEYOND;
}

function expectedWords({ below, above }: Capability): string {
  const parts = [below, above].flatMap((it) => it?.expected ?? []);
  if (parts.length === 0) return "";
  return `, ${ppm(parts.reduce((sum, it) => sum + it, 0))} ppm expected beyond ${parts.length > 1 ? "the limits" : "the limit"}`;
}

function valuesTable(found: Capability, unit: string | undefined): StudyTable {
  const { sample, within, chosen, percentiles } = found;
  const row = (name: string, value: number) => [name, formatNumber(value, { significant: 5 })];
  return {
    caption: "Values",
    columns: [
      { heading: "what", kind: "text" },
      { heading: unit ?? "value", kind: "number" },
    ],
    rows: [
      row("least", found.least),
      row("mean", sample.mean),
      row("largest", found.largest),
      row("standard deviation, all values", sample.s),
      ...(within ? [row(`standard deviation within, ${withinWords(within.method)}`, within.sigma)] : []),
      ...(percentiles
        ? [
            row("X0.135, below which 0.135 % lie", percentiles.low),
            row("X50, median", percentiles.median),
            row("X99.865, below which 99.865 % lie", percentiles.high),
          ]
        : []),
      ...(chosen ? [["distribution", chosen.words]] : []),
    ],
  };
}

function indexTable({ short: cp, performance, method, normal }: Capability): StudyTable {
  const isNormal = method === "normal";
  const from = isNormal ? "" : ", if it were normal";
  return {
    caption: "Indices",
    columns: [
      { heading: "index", kind: "text" },
      { heading: "value", kind: "number" },
      { heading: "95 % from", kind: "number" },
      { heading: "to", kind: "number" },
      { heading: "by", kind: "text" },
    ],
    rows: [
      ...(performance ? indexRows("P", performance, methodWords(method)) : []),
      ...(isNormal ? [] : indexRows("P", normal, `overall standard deviation${from}`)),
      ...(cp ? indexRows("C", cp, `standard deviation within${from}`) : []),
    ],
  };
}

function indexRows(letter: "C" | "P", { p, l, u, k }: Indices, by: string): string[][] {
  const row = (name: string, index: Index | null) =>
    index ? [[name, short(index.value), ...(index.interval?.map(short) ?? ["", ""]), by]] : [];
  return [
    ...row(`${letter}p`, p),
    ...(l && u ? [...row(`${letter}pl`, l), ...row(`${letter}pu`, u)] : []),
    ...row(`${letter}pk`, k),
  ];
}

function beyondTable({ below, above, sample }: Capability): StudyTable {
  const row = (name: string, side: Beyond | null) =>
    side
      ? [
          [
            name,
            formatNumber(side.at),
            side.expected === null ? "" : ppm(side.expected),
            String(side.observed),
            ppm(side.observed / sample.n),
          ],
        ]
      : [];
  return {
    caption: "Beyond the limits",
    columns: [
      { heading: "limit", kind: "text" },
      { heading: "at", kind: "number" },
      { heading: "expected, ppm", kind: "number" },
      { heading: "observed", kind: "number" },
      { heading: "observed, ppm", kind: "number" },
    ],
    rows: [...row("below lower", below), ...row("above upper", above)],
  };
}

function candidatesTable({ choice, chosen }: Capability): StudyTable | null {
  if (!choice) return null;
  const least = Math.min(...choice.candidates.map(({ AICc }) => AICc));
  return {
    caption: "Distributions tried",
    columns: [
      { heading: "distribution", kind: "text" },
      { heading: "AICc above least", kind: "number" },
      { heading: "A squared", kind: "number" },
      { heading: "p", kind: "number" },
      { heading: "", kind: "text" },
    ],
    rows: choice.candidates.map((it) => [
      it.words,
      formatNumber(it.AICc - least, { decimals: 1 }),
      it.goodness ? formatNumber(it.goodness.A2, { significant: 3 }) : "",
      it.goodness ? formatNumber(it.goodness.p, { decimals: 3 }) : "",
      it === chosen ? "taken" : it.goodness ? "refused" : "",
    ]),
  };
}

function figuresOf(found: Capability, { lower, upper }: CapabilitySettings): Record<string, Figure> {
  const { sample, within, short: cp, performance, normal, chosen, choice, percentiles, stability } = found;
  return {
    n: sample.n,
    subgroups: found.subgroupCount,
    LSL: lower ?? null,
    USL: upper ?? null,
    mean: sample.mean,
    s_overall: sample.s,
    sigma_within: within?.sigma ?? null,
    sigma_within_method: within ? withinWords(within.method) : null,
    sigma_within_df: within?.df ?? null,
    ...indexFigures("C", cp),
    Cpk_CI95_method: "approximate: Cpk +- z sqrt(1/(9n) + Cpk^2/(2 df)); Cp exact, chi-squared",
    ...indexFigures("P", performance),
    Ppk_method: found.method && methodWords(found.method),
    Ppk_CI95_method:
      found.method === "normal"
        ? "approximate: Ppk +- z sqrt(1/(9n) + Ppk^2/(2(n-1))); Pp exact, chi-squared"
        : found.method === "fitted percentiles"
          ? "parametric bootstrap, basic interval, 1000 resamples, fixed seed"
          : found.method && "order statistics, distribution-free",
    if_normal: indexFigures("P", normal),
    distribution: chosen?.distribution.family ?? null,
    distribution_parameters: chosen && { ...chosen.distribution.parameters },
    distribution_A2: chosen?.goodness?.A2 ?? null,
    distribution_p: chosen?.goodness?.p ?? null,
    distributions_tried:
      choice?.candidates.map(({ distribution, AICc, goodness }) => ({
        distribution: distribution.family,
        parameters: { ...distribution.parameters },
        AICc,
        A2: goodness?.A2 ?? null,
        p: goodness?.p ?? null,
      })) ?? null,
    "X0.135": percentiles?.low ?? null,
    X50: percentiles?.median ?? null,
    "X99.865": percentiles?.high ?? null,
    ...beyondFigures("below_LSL", found.below, sample.n),
    ...beyondFigures("above_USL", found.above, sample.n),
    in_control: stability?.inControl ?? null,
    outside_3_sigma: stability?.outside ?? null,
    outside_3_sigma_expected: stability?.expectedOutside ?? null,
    drift_p: stability?.drift_p ?? null,
  };
}

function indexFigures(letter: "C" | "P", indices: Indices | null): Record<string, Figure> {
  const of = (name: string, index: Index | null): Record<string, Figure> => ({
    [`${letter}${name}`]: index?.value ?? null,
    [`${letter}${name}_CI95`]: index?.interval ? [...index.interval] : null,
  });
  return {
    ...of("p", indices?.p ?? null),
    ...of("pl", indices?.l ?? null),
    ...of("pu", indices?.u ?? null),
    ...of("pk", indices?.k ?? null),
  };
}

function beyondFigures(name: string, side: Beyond | null, n: number): Record<string, Figure> {
  if (!side) return {};
  const { lower, upper } = exactInterval(side.observed, n);
  return {
    [`ppm_${name}`]: side.expected === null ? null : side.expected * 1e6,
    [`observed_${name}`]: side.observed,
    [`observed_ppm_${name}`]: (side.observed / n) * 1e6,
    [`observed_ppm_${name}_CI95`]: [lower * 1e6, upper * 1e6],
  };
}

function withUnit(value: number, unit: string | undefined): string {
  return unit === undefined ? formatNumber(value) : `${formatNumber(value)} ${unit}`;
}

function short(value: number): string {
  return Math.abs(value) < 1000
    ? formatNumber(value, { decimals: 2 })
    : formatNumber(value, { significant: 3 });
}

/** Nobody has seen enough units to tell rarer ones apart. */
const RAREST_ppm = 0.001;

function ppm(part: number): string {
  const parts = part * 1e6;
  if (parts > 0 && parts < RAREST_ppm) return `under ${RAREST_ppm}`;
  return formatNumber(parts, { significant: 3 });
}
