import { formatNumber } from "../../../limits/print-quantity.ts";
import type { StudyReport } from "../study-report.ts";
import { roundedDown, upperLine } from "./limit-lines.ts";
import type { BinaryPoint, LeakAtProbability, LogisticFit } from "./logistic-fit.ts";

/** What a limit is for, whichever way it is found; leak rates in `unit`. */
export interface LimitTold {
  readonly model: string;
  readonly unit: string;
  /** The same as a limit file has it, with its conditions: "mL/min @ 20 degC". */
  readonly unitInFile: string;
  /** Of the limit file as it is. */
  readonly present: number;
  /** What the limit file's rule leaves to the limit itself: 0 where the station draws its acceptance in by itself. */
  readonly stationGuard: number;
  /** In words: "the station itself accepts up to 48.2 mL/min, by conformance 95 %". */
  readonly guardText: string;
  readonly notes: readonly string[];
}

export interface FieldFound {
  readonly points: readonly BinaryPoint[];
  readonly fit: LogisticFit;
  readonly probability: number;
  readonly at: LeakAtProbability;
}

/** Guards taken off one after the other, as a table and figures. */
function limitAfter(required: number, guards: readonly { readonly name: string; readonly guard: number }[]) {
  const left = guards.reduce((sum, { guard }) => sum - guard, required);
  return left > 0 ? roundedDown(left) : null;
}

/** A limit from units whose leak was known when they were sold. */
export function fieldLimitReport(found: FieldFound, told: LimitTold): StudyReport {
  const { points, fit, probability, at } = found;
  const { unit, present, model } = told;
  const field = at.value - at.lower;
  const limit = limitAfter(at.value, [
    { name: "field data", guard: field },
    { name: "station", guard: told.stationGuard },
  ]);
  const xs = points.map(({ x }) => x);
  const [least, most] = [Math.min(...xs), Math.max(...xs)];
  const returned = points.filter(({ event }) => event).length;
  const chance = (x: number) => 1 / (1 + Math.exp(-(fit.intercept + fit.slope * x)));
  const shown = (value: number) => formatNumber(value, { significant: 3 });
  const isOutside = at.value > most || at.value < least;
  const lines = limit === null ? [] : [upperLine(limit, told.unitInFile)];
  const end = Math.max(most, isOutside ? at.value : most);
  return {
    title: "A leak limit from what came back",
    question: "Does a leak limit follow?",
    subject: `${model}: ${points.length} units from ${shown(least)} to ${shown(most)} ${unit}, ${returned} returned`,
    conclusion:
      limit === null
        ? `No leak limit above zero keeps returns to ${percent(probability)} for certain: of a unit without any leak ${percent(chance(0))} come back by these data. Gather more of them, or ask for less.`
        : `A limit of ${formatNumber(limit)} ${unit} keeps the chance of a return to ${percent(probability)} at most; the present limit is ${shown(present)} ${unit}${present > limit ? ", which is more" : ""}.`,
    answer: limit === null ? "no" : isOutside || returned < FEW_RETURNS ? "marginal" : "yes",
    bands: [],
    notes: [
      ...told.notes,
      told.guardText,
      ...(returned < FEW_RETURNS
        ? [
            `Only ${returned} returned: with fewer than ${FEW_RETURNS} the fit hangs on a few units (rule of thumb: ten events for each variable).`,
          ]
        : []),
      ...(isOutside
        ? [
            `${shown(at.value)} ${unit} lies outside the units that were sold (${shown(least)} to ${shown(most)}): the curve is only continued there, and nothing was seen.`,
          ]
        : []),
      "Leak values carry the station's uncertainty; where that is not small beside their spread the true curve is steeper than the one fitted. What else brings units back is in the chance at no leak.",
      ...linesNote(lines),
    ],
    tables: [
      {
        caption: `From the chance of a return to the limit, ${unit}`,
        columns: [
          { heading: "", kind: "text" },
          { heading: "leak", kind: "number" },
        ],
        rows: [
          [`${percent(probability)} come back at`, shown(at.value)],
          ["95 % interval (profile likelihood), from", shown(at.lower)],
          ["to", shown(at.upper)],
          ["guard band for the field data", shown(field)],
          ["guard band for the station", shown(told.stationGuard)],
          ["limit", limit === null ? "none" : formatNumber(limit)],
        ],
      },
    ],
    charts: [
      {
        title: "Chance of a return",
        x: { label: `leak when tested, ${unit}` },
        y: { label: "% returned" },
        series: [
          {
            name: "logistic fit",
            draw: "line",
            points: Array.from({ length: 101 }, (_, i) => {
              const x = least + ((end - least) * i) / 100;
              return [x, 100 * chance(x)] as const;
            }),
          },
          {
            name: "returned, in tenths of the units",
            draw: "dots",
            points: tenths(points),
          },
        ],
        levels: [
          { label: "asked for", along: "y", at: 100 * probability, means: "specification limit" },
          ...(limit === null
            ? []
            : [{ label: "limit", along: "x" as const, at: limit, means: "specification limit" as const }]),
        ],
      },
    ],
    figures: {
      model,
      unit,
      n: points.length,
      returned,
      intercept: fit.intercept,
      slope: fit.slope,
      se_intercept: Math.sqrt(fit.variance.intercept),
      se_slope: Math.sqrt(fit.variance.slope),
      log_likelihood: fit.logLikelihood,
      likelihood_ratio: 2 * (fit.logLikelihood - fit.nullLogLikelihood),
      probability,
      leak_at_probability: at.value,
      leak_se_delta: at.standardError,
      leak_CI95: [at.lower, at.upper],
      guard_field: field,
      guard_station: told.stationGuard,
      limit,
      present_limit: present,
      limit_file_lines: lines,
    },
    data: {
      caption: "Units",
      columns: [
        { heading: `leak, ${unit}`, kind: "number" },
        { heading: "returned", kind: "text" },
      ],
      rows: points.map(({ x, event }) => [formatNumber(x), event ? "yes" : "no"]),
    },
  };
}

const FEW_RETURNS = 10;

/** Part that came back of each tenth of the units by leak, at their mean leak. */
function tenths(points: readonly BinaryPoint[]): (readonly [number, number])[] {
  const sorted = [...points].sort((a, b) => a.x - b.x);
  const groups = Math.min(10, sorted.length);
  return Array.from({ length: groups }, (_, i) => {
    const group = sorted.slice(
      Math.floor((i * sorted.length) / groups),
      Math.floor(((i + 1) * sorted.length) / groups),
    );
    const mean = group.reduce((sum, { x }) => sum + x, 0) / group.length;
    return [mean, (100 * group.filter(({ event }) => event).length) / group.length] as const;
  });
}

export interface SuctionFound {
  /** "180 W of suction power at the point working". */
  readonly required: string;
  /** Each cleaner's leak that leaves just this. */
  readonly leaks: readonly { readonly name: string; readonly leak: number }[];
  /** Cleaners that have not enough even when tight. */
  readonly tooWeak: number;
  /** Part of the cleaners that must keep what is required at the limit. */
  readonly share: number;
  /** How far stated fans differ, as a part of their suction, and the leak that the share of them stands; null where not stated. */
  readonly spread: { readonly part: number; readonly weakest: number } | null;
  /** What the middle cleaner keeps with growing leak, for the chart. */
  readonly kept: readonly (readonly [leak: number, kept: number])[];
  readonly keptUnit: string;
  readonly least: number;
  /** What of the test pressure is left after the shortest measurement of such a leak; below a half none is possible. */
  readonly pressureLeft: number;
  readonly measuredAfter_s: number;
}

/** A limit from the suction that a cleaner must keep. */
export function suctionLimitReport(found: SuctionFound, told: LimitTold): StudyReport {
  const { model, unit, present } = told;
  const sorted = found.leaks.map(({ leak }) => leak).sort((a, b) => a - b);
  const middle = sorted[Math.floor((sorted.length - 1) / 2)] ?? Number.NaN;
  const weakest =
    found.spread?.weakest ?? sorted[Math.floor((1 - found.share) * sorted.length + 1e-9)] ?? Number.NaN;
  const process = middle - weakest;
  const limit = limitAfter(middle, [
    { name: "process", guard: process },
    { name: "station", guard: told.stationGuard },
  ]);
  const isMeasurable = found.pressureLeft >= 0.5;
  const shown = (value: number) => formatNumber(value, { significant: 3 });
  const lines = limit !== null && isMeasurable ? [upperLine(limit, told.unitInFile)] : [];
  const n = sorted.length;
  return {
    title: "A leak limit from the suction that must be left",
    question: "Does a leak limit follow?",
    subject: `${model}: ${found.required}, ${n} ${n === 1 ? "cleaner" : "cleaners"}`,
    conclusion:
      limit === null
        ? "The guard bands are more than the whole leak that could be allowed: no limit follows."
        : isMeasurable
          ? `A limit of ${formatNumber(limit)} ${unit} keeps ${found.required}; the present limit is ${shown(present)} ${unit}${present > limit ? ", which is more" : ""}.`
          : `Suction does not set this limit: it would take a leak of ${shown(limit)} ${unit} (the present limit is ${shown(present)}), and that empties the body before it can be measured. A limit for dust or for the process must come from elsewhere, as from returns.`,
    answer: limit === null ? "no" : isMeasurable ? "yes" : "none",
    bands: [],
    notes: [
      ...told.notes,
      told.guardText,
      ...(found.tooWeak > 0
        ? [
            `${found.tooWeak} cleaners have less even when tight, and are left out: that is for the airflow step to find.`,
          ]
        : []),
      ...(found.spread
        ? [
            `Fans differ by ${percent(found.spread.part)} in suction (standard deviation, as stated): ${percent(found.share)} of them, if normally distributed, stand ${shown(weakest)} ${unit} or more.`,
          ]
        : []),
      ...(found.spread
        ? []
        : n === 1
          ? ["One fan curve only: how far fans differ is not in the guard band. Say it with --fan-spread."]
          : n * (1 - found.share) < 1 - 1e-9
            ? [
                `Of ${n} cleaners the weakest is taken: ${Math.ceil(1 / (1 - found.share) - 1e-9)} or more are needed to tell ${percent(1 - found.share)}.`,
              ]
            : []),
      `After ${formatNumber(found.measuredAfter_s)} s such a leak leaves ${percent(found.pressureLeft)} of the test pressure; half is the least that is measured at.`,
      "Each cleaner's leak is the smaller of two laws, as through fine pores and as through a hole. It comes on top of the leak that the fan curve was measured with.",
      ...linesNote(lines),
    ],
    tables: [
      {
        caption: `From the suction to the limit, ${unit}`,
        columns: [
          { heading: "", kind: "text" },
          { heading: "leak", kind: "number" },
        ],
        rows: [
          ["leak that leaves it, middle cleaner", shown(middle)],
          ["guard band for the process (fans)", shown(process)],
          ["guard band for the station", shown(told.stationGuard)],
          ["limit", limit === null ? "none" : formatNumber(limit)],
        ],
      },
    ],
    charts: [
      {
        title: "What a leak costs the middle cleaner",
        x: { label: `leak rate at the test pressure, ${unit}` },
        y: { label: found.keptUnit },
        series: [{ name: "left at the working point", draw: "line", points: found.kept }],
        levels: [
          { label: "required", along: "y", at: found.least, means: "specification limit" },
          ...(limit === null
            ? []
            : [{ label: "limit", along: "x" as const, at: limit, means: "specification limit" as const }]),
        ],
      },
    ],
    figures: {
      model,
      unit,
      required: found.required,
      cleaners: n,
      too_weak: found.tooWeak,
      share: found.share,
      fan_spread: found.spread?.part ?? null,
      leak_middle: middle,
      guard_process: process,
      guard_station: told.stationGuard,
      limit,
      measurable: isMeasurable,
      pressure_left: found.pressureLeft,
      present_limit: present,
      limit_file_lines: lines,
    },
    data: {
      caption: `Leak that leaves ${found.required}`,
      columns: [
        { heading: "cleaner", kind: "text" },
        { heading: unit, kind: "number" },
      ],
      rows: found.leaks.map(({ name, leak }) => [name, shown(leak)]),
    },
  };
}

function linesNote(lines: readonly string[]): string[] {
  return lines.length === 0
    ? []
    : ["Line for the limit file's characteristic:", ...lines.map((line) => `  ${line}`)];
}

function percent(part: number): string {
  return `${formatNumber(100 * part, { significant: 3 })} %`;
}
