import { formatNumber } from "../../../limits/print-quantity.ts";
import {
  type Figure,
  type StudyChart,
  type StudyReport,
  type StudyTable,
  tableOnDemand,
} from "../study-report.ts";
import type { Agreement, Comparison, Rate, Share } from "./agreement.ts";
import { AGREEMENT_BANDS, gradedAgreement } from "./agreement-grade.ts";
import { columns, kappaFigures, kappasOf, kappaTables, knownFigures, shown } from "./agreement-kappas.ts";
import type { Kappa } from "./kappa.ts";
import type { RatedUnits } from "./rated-units.ts";

export interface ReportedRatings {
  /** What was rated, where it is known. */
  readonly subject?: string | undefined;
}

export function agreementReport(
  rated: RatedUnits,
  found: Agreement,
  { subject }: ReportedRatings = {},
): StudyReport {
  const { units, appraisers, categories } = rated;
  const size = `${units.length} units, ${appraisers.length} appraiser${appraisers.length === 1 ? "" : "s"}, ratings ${categories.join(", ")}`;
  return {
    title: "Attribute agreement",
    question: "Are the ratings fit to judge by?",
    subject: subject === undefined ? size : `${subject}, ${size}`,
    ...gradedAgreement(rated, found),
    bands: found.against.length > 0 ? AGREEMENT_BANDS : AGREEMENT_BANDS.slice(-1),
    notes: notes(rated, found),
    tables: [
      ...(found.within.length > 0 ? [withinTable(found)] : []),
      ...(found.between ? [betweenTable(found.between)] : []),
      ...(found.against.length > 0 ? [againstTable(found)] : []),
      ...kappaTables(found),
    ],
    charts: charts(found),
    figures: { units: units.length, categories, ...figuresOf(found) },
    data: dataTable(rated),
  };
}

function notes({ units, categories }: RatedUnits, found: Agreement): string[] {
  const { within, between, against, bad, unitsWithoutReference } = found;
  const overall = between?.overall;
  const kappas = kappasOf(found);
  const isBoth = against.length > 0 && bad !== null && categories.length > 1;
  return [
    ...(units.length < 50 ? ["AIAG's example rates 50 units, by 3 appraisers, 3 times (from memory)."] : []),
    ...(within.length === 0
      ? ["Nobody rated a unit twice: how well an appraiser repeats can't be said."]
      : []),
    ...(between === null ? ["One appraiser only: how appraisers agree can't be said."] : []),
    ...(between && between.pairs.length === 0
      ? ["No two appraisers have the same trial of the same unit: there are no pairs to compare."]
      : []),
    ...(against.length === 0
      ? ["No references: effectiveness, missed units and false alarms can't be said."]
      : unitsWithoutReference.length > 0
        ? [`Without a reference, and left out where it counts: ${listed(unitsWithoutReference)}.`]
        : []),
    ...(overall && overall.units < units.length
      ? [
          `Fleiss' kappa is of the ${overall.units} units that were rated ${overall.ratings} times; the others were rated more often or less.`,
        ]
      : []),
    ...(against.length > 0 && bad === null && categories.length > 1
      ? [
          `Which rating rejects is not plain from ${categories.join(", ")}: say it with --bad, for miss and false alarm rates.`,
        ]
      : []),
    ...(isBoth
      ? [
          `Rejected by ${bad.join(", ")}. A miss is a bad unit called good, a false alarm a good one called bad, per decision.`,
        ]
      : []),
    ...(isBoth && against.some(({ miss }) => miss === null)
      ? ["No unit with a reference is bad: misses can't show."]
      : []),
    ...(isBoth && against.some(({ falseAlarm }) => falseAlarm === null)
      ? ["No unit with a reference is good: false alarms can't show."]
      : []),
    ...(kappas.some(({ kappa }) => kappa === null)
      ? [
          "Where both sides give one and the same rating throughout there is no kappa: they would agree by chance alone.",
        ]
      : []),
    "Intervals of shares of units: 95 %, exact (Clopper and Pearson).",
    ...(kappas.some(({ CI95 }) => CI95 !== null)
      ? [
          `Intervals of kappa: 95 %, for large samples, the ratings of one unit taken together (Fleiss, Cohen and Everitt, 1969; Gwet, 2021; from memory)${units.length < 30 ? `; with ${units.length} units they are rough` : ""}.`,
        ]
      : []),
    ...(kappas.some(({ kappa, CI95 }) => kappa !== null && CI95 === null)
      ? [
          "Ratings that agree throughout show no scatter to tell kappa's interval by: go by that of the units.",
        ]
      : []),
  ];
}

function listed(names: readonly string[]): string {
  return names.length > 10
    ? `${names.slice(0, 10).join(", ")} and ${names.length - 10} more`
    : names.join(", ");
}

function withinTable({ within }: Agreement): StudyTable {
  return {
    caption: "Within each appraiser: units rated the same each time",
    columns: columns("appraiser", "units", "same", "%", "95 % interval, %", "Fleiss' kappa"),
    rows: within.map(({ appraiser, share, overall }) => [
      appraiser,
      ...shareCells(share),
      shown(overall?.kappa ?? null),
    ]),
  };
}

function betweenTable({ pairs, overall, share }: NonNullable<Agreement["between"]>): StudyTable {
  return {
    caption: `Between appraisers, the same unit and trial${share ? ` (all agree on ${share.matched} of ${share.inspected} units, ${percent(share.rate)} %, 95 % interval ${interval(share)} %)` : ""}`,
    columns: columns("who", "decisions", "agree po", "by chance pe", "kappa"),
    rows: [
      ...pairs.map(({ appraisers, n, ...kappa }) => [
        appraisers.join(" x "),
        String(n),
        ...kappaCells(kappa),
      ]),
      ...(overall ? [["all, Fleiss", String(overall.units * overall.ratings), ...kappaCells(overall)]] : []),
    ],
  };
}

function againstTable({ against, allRight }: Agreement): StudyTable {
  return {
    caption: `Against the reference: effectiveness is units rated right each time${allRight ? ` (by all: ${allRight.matched} of ${allRight.inspected}, ${percent(allRight.rate)} %, 95 % interval ${interval(allRight)} %)` : ""}`,
    columns: columns(
      "appraiser",
      "units",
      "right",
      "effectiveness, %",
      "95 % interval, %",
      "kappa",
      "missed, %",
      "false alarms, %",
    ),
    rows: against.map(({ appraiser, effectiveness, kappa, miss, falseAlarm }) => [
      appraiser,
      ...shareCells(effectiveness),
      shown(kappa),
      miss ? percent(miss.rate) : "",
      falseAlarm ? percent(falseAlarm.rate) : "",
    ]),
  };
}

function charts(found: Agreement): StudyChart[] {
  const { within, against } = found;
  const kappas = kappasOf(found).flatMap(({ name, kappa, CI95 }) =>
    kappa === null ? [] : [{ name, kappa, CI95 }],
  );
  const intervals = kappas.flatMap(({ CI95 }, k) => (CI95 ? intervalAt(k, CI95) : []));
  return [
    ...(kappas.length > 0
      ? [
          {
            title: "Kappa",
            x: { label: "comparison", names: kappas.map(({ name }) => name) },
            y: { label: "kappa" },
            series: [
              {
                name: "kappa",
                draw: "bars" as const,
                points: kappas.map(({ kappa }, k) => [k, kappa] as const),
              },
              ...(intervals.length > 0
                ? [{ name: "95 % interval", draw: "intervals" as const, points: intervals }]
                : []),
            ],
            levels: [
              { label: "good 0.75", along: "y" as const, at: 0.75, means: "specification limit" as const },
              { label: "poor 0.4", along: "y" as const, at: 0.4, means: "specification limit" as const },
            ],
          },
        ]
      : []),
    ...shareCharts(
      "Units rated the same each time",
      within.map(({ appraiser, share }) => ({ appraiser, share })),
    ),
    ...shareCharts(
      "Effectiveness",
      against.map(({ appraiser, effectiveness }) => ({ appraiser, share: effectiveness })),
    ),
  ];
}

function intervalAt(
  place: number,
  { lower, upper }: { readonly lower: number; readonly upper: number },
  times = 1,
): readonly (readonly [number, number])[] {
  return [
    [place, times * lower],
    [place, times * upper],
  ];
}

function shareCharts(
  title: string,
  shares: readonly { readonly appraiser: string; readonly share: Share }[],
): StudyChart[] {
  if (shares.length === 0) return [];
  return [
    {
      title,
      x: { label: "appraiser", names: shares.map(({ appraiser }) => appraiser) },
      y: { label: "% of units" },
      series: [
        { name: "share", draw: "bars", points: shares.map(({ share }, k) => [k, 100 * share.rate] as const) },
        {
          name: "95 % interval",
          draw: "intervals",
          points: shares.flatMap(({ share }, k) => intervalAt(k, share.CI95, 100)),
        },
      ],
    },
  ];
}

function figuresOf({ bad, within, between, against, allRight }: Agreement): Record<string, Figure> {
  const comparisons = [...(between?.pairs ?? []), ...against];
  const [only, ...others] = comparisons;
  return {
    bad,
    // A study of one comparison is read without a list.
    ...(only && others.length === 0 ? { ...kappaFigures(only), ...knownFigures(only) } : {}),
    within: within.map(({ appraiser, share, overall }) => ({
      appraiser,
      ...shareFigures(share),
      kappa: overall?.kappa ?? null,
      ...(overall ? knownFigures(overall) : {}),
    })),
    between: between && {
      pairs: between.pairs.map((pair) => ({ appraisers: pair.appraisers, ...comparisonFigures(pair) })),
      fleiss: between.overall && {
        units: between.overall.units,
        ratings_per_unit: between.overall.ratings,
        ...kappaFigures(between.overall),
        ...knownFigures(between.overall),
      },
      all_agree: between.share && shareFigures(between.share),
    },
    reference: against.map((one) => ({
      appraiser: one.appraiser,
      ...comparisonFigures(one),
      effectiveness: one.effectiveness.rate,
      matched: one.effectiveness.matched,
      inspected: one.effectiveness.inspected,
      effectiveness_CI95: [one.effectiveness.CI95.lower, one.effectiveness.CI95.upper],
      ...rateFigures("miss", one.miss),
      ...rateFigures("false_alarm", one.falseAlarm),
    })),
    all_right: allRight && shareFigures(allRight),
  };
}

function comparisonFigures(compared: Comparison): Record<string, Figure> {
  return { n: compared.n, table: compared.table, ...kappaFigures(compared), ...knownFigures(compared) };
}

function shareFigures({ matched, inspected, rate, CI95 }: Share): Record<string, Figure> {
  return { matched, inspected, rate, CI95: [CI95.lower, CI95.upper] };
}

function rateFigures(name: string, rate: Rate | null): Record<string, Figure> {
  return {
    [`${name}_rate`]: rate?.rate ?? null,
    [`${name}_count`]: rate?.count ?? null,
    [`${name}_decisions`]: rate?.of ?? null,
  };
}

function dataTable({ ratings, units }: RatedUnits): StudyTable {
  const references = new Map(units.map(({ unit, reference }) => [unit, reference]));
  const withReference = units.some(({ reference }) => reference !== null);
  const headings = ["unit", "appraiser", "trial", "rating", ...(withReference ? ["reference"] : [])];
  return tableOnDemand(
    { caption: "Ratings", columns: headings.map((heading) => ({ heading, kind: "text" })) },
    () =>
      ratings.map(({ unit, appraiser, trial, rating }) => [
        unit,
        appraiser,
        trial,
        rating,
        ...(withReference ? [references.get(unit) ?? ""] : []),
      ]),
  );
}

function shareCells(share: Share): string[] {
  return [String(share.inspected), String(share.matched), percent(share.rate), interval(share)];
}

function kappaCells({ po, pe, kappa }: Kappa): string[] {
  return [shown(po), shown(pe), shown(kappa)];
}

function interval({ CI95 }: Share): string {
  return `${percent(CI95.lower)} to ${percent(CI95.upper)}`;
}

function percent(rate: number): string {
  return formatNumber(100 * rate, { decimals: 1 });
}
