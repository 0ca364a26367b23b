import { NoStudy } from "../study-report.ts";
import { type AverageAndRange, averageAndRange } from "./average-and-range.ts";
import type { CrossedStudy } from "./crossed-study.ts";
import {
  AIAG_POOLING,
  type Combination,
  estimateOf,
  type GaugeAnova,
  gaugeAnova,
  type InteractionRule,
} from "./gauge-anova.ts";
import { type Interval, mlsLimits } from "./mls-interval.ts";
import { checkUsable, checkWidth } from "./usable-values.ts";

/** What the gauge's spread is held against besides the parts': a width, or limits of which one may be missing. */
export type Tolerance =
  | { readonly width: number }
  | { readonly lower?: number | undefined; readonly upper?: number | undefined };

export interface RepeatabilityOptions {
  readonly method: "range" | "anova";
  readonly rule?: InteractionRule;
  readonly tolerance?: Tolerance;
}

export type ComponentName = "EV" | "AV" | "INT" | "GRR" | "PV" | "TV";

/** One part of the total variation. */
export interface Component {
  readonly sd: number;
  readonly variance: number;
  /** Null where nothing varies at all. */
  readonly pct_contribution: number | null;
  readonly pct_study: number | null;
  /** Six standard deviations in a tolerance, three in the distance from the mean to a single limit. */
  readonly pct_tolerance: number | null;
  /** Of the standard deviation, 95 %; null by the range method. */
  readonly sd_CI95: Interval | null;
}

export interface Repeatability {
  readonly method: "range" | "anova";
  readonly mean: number;
  readonly anova: GaugeAnova | null;
  readonly range: AverageAndRange | null;
  /** Null where the design or the method can't tell it. */
  readonly components: Readonly<Record<ComponentName, Component | null>> & {
    readonly EV: Component;
    readonly GRR: Component;
    readonly PV: Component;
    readonly TV: Component;
  };
  /** 1.41 PV / GRR; null where the gauge shows no spread. */
  readonly ndc_raw: number | null;
  readonly ndc: number | null;
  readonly pct_GRR_CI95: Interval | null;
  readonly pct_tolerance_GRR_CI95: Interval | null;
  readonly ndc_raw_CI95: Interval | null;
  /** Components whose estimate was negative. */
  readonly setToZero: readonly ("AV" | "INT" | "PV")[];
}

const CONFIDENCE = 0.95;

/**
 * Gauge repeatability and reproducibility of a crossed study.
 * @throws NoStudy where the tolerance is none
 * @see AIAG, Measurement Systems Analysis, 4th ed., chapter III B
 * @example repeatability(aiagStudy, { method: "anova" }).components.GRR.pct_study // 27.86 for the data of AIAG's manual
 */
export function repeatability(study: CrossedStudy, options: RepeatabilityOptions): Repeatability {
  const flat = study.values.flat(2);
  checkUsable(flat);
  const mean = flat.reduce((sum, value) => sum + value, 0) / flat.length;
  const perSd = options.tolerance ? pctPerSd(options.tolerance, mean) : null;
  return options.method === "range" ? byRange(study, mean, perSd) : byAnova(study, options, mean, perSd);
}

/** Per cent of the tolerance for each unit of standard deviation. @throws NoStudy where that is nothing */
function pctPerSd(tolerance: Tolerance, mean: number): number {
  if ("width" in tolerance) {
    checkWidth(tolerance.width);
    return 600 / tolerance.width;
  }
  const { lower, upper } = tolerance;
  checkUsable([lower, upper].filter((limit) => limit !== undefined));
  if (lower !== undefined && upper !== undefined) {
    if (!(lower < upper)) throw new NoStudy("The lower limit must be below the upper one.");
    checkWidth(upper - lower);
    return 600 / (upper - lower);
  }
  const room = upper !== undefined ? upper - mean : mean - (lower ?? mean);
  if (!(room > 0)) {
    throw new NoStudy(
      "The parts' mean lies beyond the single limit, so that there is no distance to hold the gauge's spread against: measure parts that conform, or give a width with --tolerance.",
    );
  }
  checkWidth(room);
  return 300 / room;
}

function byRange(study: CrossedStudy, mean: number, perSd: number | null): Repeatability {
  const range = averageAndRange(study);
  const { EV, AV, PV } = range;
  const GRR = Math.hypot(EV, AV ?? 0);
  const TV = Math.hypot(GRR, PV);
  const component = (sd: number) => componentOf(sd, TV, perSd, null);
  return {
    method: "range",
    mean,
    anova: null,
    range,
    components: {
      EV: component(EV),
      AV: AV === null ? null : component(AV),
      INT: null,
      GRR: component(GRR),
      PV: component(PV),
      TV: component(TV),
    },
    ...categories(GRR, PV),
    pct_GRR_CI95: null,
    pct_tolerance_GRR_CI95: null,
    ndc_raw_CI95: null,
    setToZero: range.isAvSetToZero ? ["AV"] : [],
  };
}

function byAnova(
  study: CrossedStudy,
  { rule = AIAG_POOLING }: RepeatabilityOptions,
  mean: number,
  perSd: number | null,
): Repeatability {
  const anova = gaugeAnova(study, rule);
  const { combinations, meanSquares } = anova;
  const limits = mlsLimits(meanSquares, CONFIDENCE);
  const estimate = (combination: Combination | null) =>
    combination === null ? null : estimateOf(combination, meanSquares);
  const raw = {
    AV: estimate(combinations.appraiser),
    INT: estimate(combinations.interaction),
    PV: estimateOf(combinations.part, meanSquares),
  };
  const variance = {
    EV: estimateOf(combinations.repeatability, meanSquares),
    AV: Math.max(0, raw.AV ?? 0),
    INT: Math.max(0, raw.INT ?? 0),
    PV: Math.max(0, raw.PV),
  };
  const GRR = Math.sqrt(variance.EV + variance.AV + variance.INT);
  const PV = Math.sqrt(variance.PV);
  const TV = Math.hypot(GRR, PV);
  const interval = (combination: Combination, sd: number) => {
    const { lower, upper } = limits.interval(combination);
    return around(sd, Math.sqrt(Math.max(0, lower)), Math.sqrt(Math.max(0, upper)));
  };
  const component = (sd: number, combination: Combination) =>
    componentOf(sd, TV, perSd, interval(combination, sd));
  const GRR_CI95 = interval(combinations.GRR, GRR);
  const ratio = limits.ratio(combinations.part, combinations.GRR);
  const { ndc, ndc_raw } = categories(GRR, PV);
  return {
    method: "anova",
    mean,
    anova,
    range: null,
    components: {
      EV: component(Math.sqrt(variance.EV), combinations.repeatability),
      AV: combinations.appraiser && component(Math.sqrt(variance.AV), combinations.appraiser),
      INT: combinations.interaction && component(Math.sqrt(variance.INT), combinations.interaction),
      GRR: componentOf(GRR, TV, perSd, GRR_CI95),
      PV: component(PV, combinations.part),
      TV: component(TV, sum(combinations.part, combinations.GRR)),
    },
    ndc,
    ndc_raw,
    pct_GRR_CI95:
      ratio && TV > 0
        ? around((100 * GRR) / TV, 100 / Math.sqrt(1 + ratio.upper), 100 / Math.sqrt(1 + ratio.lower))
        : null,
    pct_tolerance_GRR_CI95:
      perSd === null ? null : { lower: perSd * GRR_CI95.lower, upper: perSd * GRR_CI95.upper },
    ndc_raw_CI95:
      ratio && ndc_raw !== null
        ? around(ndc_raw, CATEGORIES * Math.sqrt(ratio.lower), CATEGORIES * Math.sqrt(ratio.upper))
        : null,
    setToZero: (["AV", "INT", "PV"] as const).filter((name) => (raw[name] ?? 0) < 0),
  };
}

function componentOf(sd: number, TV: number, perSd: number | null, sd_CI95: Interval | null): Component {
  return {
    sd,
    variance: sd * sd,
    pct_contribution: TV > 0 ? 100 * (sd / TV) ** 2 : null,
    pct_study: TV > 0 ? (100 * sd) / TV : null,
    pct_tolerance: perSd === null ? null : perSd * sd,
    sd_CI95,
  };
}

/** AIAG's factor, the square root of two to three digits. */
const CATEGORIES = 1.41;

function categories(GRR: number, PV: number): { ndc: number | null; ndc_raw: number | null } {
  if (!(GRR > 0)) return { ndc: null, ndc_raw: null };
  const ndc_raw = (CATEGORIES * PV) / GRR;
  return { ndc: Math.floor(ndc_raw), ndc_raw };
}

/** A component set to zero moves sums that hold it: their limits, made without, must still have the estimate between them. */
function around(estimate: number, lower: number, upper: number): Interval {
  return { lower: Math.min(lower, estimate), upper: Math.max(upper, estimate) };
}

function sum(a: Combination, b: Combination): Combination {
  const total: Record<string, number> = { ...a };
  for (const [term, number] of Object.entries(b)) total[term] = (total[term] ?? 0) + number;
  return total;
}
