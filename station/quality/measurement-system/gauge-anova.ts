import fCdf from "@stdlib/stats-base-dists-f-cdf";
import type { CrossedStudy } from "./crossed-study.ts";
import type { MeanSquare } from "./mls-interval.ts";
import { roundingFloor } from "./rounding-floor.ts";

/** A line of an analysis of variance. */
export interface AnovaLine extends MeanSquare {
  readonly sumOfSquares: number;
  /** Null where what it is held against is zero. */
  readonly F: number | null;
  /** Chance of an F as large without the effect; null where nothing scatters at all. */
  readonly p: number | null;
}

export type Term = "part" | "appraiser" | "interaction" | "repeatability";

/** A sum of mean squares, each times its number. */
export type Combination = Readonly<Partial<Record<Term, number>>>;

/** Two-way random-effects analysis of a crossed study, of the first kind where there is one appraiser only. */
export interface GaugeAnova {
  readonly part: AnovaLine;
  readonly appraiser: AnovaLine | null;
  /** As tested, before any pooling. */
  readonly interaction: AnovaLine | null;
  readonly repeatability: AnovaLine;
  readonly total: { readonly sumOfSquares: number; readonly degrees: number };
  /** What became of the interaction; null where there is none with one appraiser. */
  readonly interactionIs: "kept" | "pooled" | null;
  /** Interaction and repeatability together. */
  readonly pooled: MeanSquare | null;
  /** The mean squares that the components come from; `repeatability` is the pooled one after pooling. */
  readonly meanSquares: Readonly<Partial<Record<Term, MeanSquare>>>;
  /** Each component of variance as a sum of mean squares, before a negative one is set to zero. */
  readonly combinations: Readonly<Record<"part" | "repeatability" | "GRR", Combination>> & {
    readonly appraiser: Combination | null;
    readonly interaction: Combination | null;
  };
}

export interface InteractionRule {
  readonly interaction: "auto" | "keep" | "pool";
  /** With `auto`: pooled into repeatability when its p is above this. */
  readonly poolAbove: number;
}

/** AIAG, Measurement Systems Analysis, 4th ed., pools at 0.25; some programs at 0.05. */
export const AIAG_POOLING: InteractionRule = { interaction: "auto", poolAbove: 0.25 };

/**
 * Analysis of variance of y = mean + part + appraiser + part x appraiser + repeatability, all effects random, every cell with
 * the same number of values.
 * @see AIAG, Measurement Systems Analysis, 4th ed., appendix A; Montgomery, Design and Analysis of Experiments, 13.2
 * @example gaugeAnova(aiagStudy).interaction?.F // 0.4337 for the data of AIAG's manual
 */
export function gaugeAnova(study: CrossedStudy, rule: InteractionRule = AIAG_POOLING): GaugeAnova {
  const [p, o, r] = [study.parts.length, study.appraisers.length, study.trials];
  const sums = sumsOfSquares(study);
  const repeatability = { ...meanSquare(sums.repeatability, p * o * (r - 1)), F: null, p: null };
  const total = { sumOfSquares: sums.total, degrees: p * o * r - 1 };
  const partSquare = meanSquare(sums.part, p - 1);
  if (o === 1) {
    return {
      part: tested(partSquare, repeatability),
      appraiser: null,
      interaction: null,
      repeatability,
      total,
      interactionIs: null,
      pooled: null,
      meanSquares: { part: partSquare, repeatability },
      combinations: {
        part: { part: 1 / r, repeatability: -1 / r },
        repeatability: { repeatability: 1 },
        GRR: { repeatability: 1 },
        appraiser: null,
        interaction: null,
      },
    };
  }
  const appraiserSquare = meanSquare(sums.appraiser, o - 1);
  const interaction = tested(meanSquare(sums.interaction, (p - 1) * (o - 1)), repeatability);
  const pooled = meanSquare(
    sums.interaction + sums.repeatability,
    interaction.degrees + repeatability.degrees,
  );
  const isPooled =
    rule.interaction === "auto" ? (interaction.p ?? 1) > rule.poolAbove : rule.interaction === "pool";
  const error = isPooled ? pooled : interaction;
  return {
    part: tested(partSquare, error),
    appraiser: tested(appraiserSquare, error),
    interaction,
    repeatability,
    total,
    interactionIs: isPooled ? "pooled" : "kept",
    pooled,
    meanSquares: isPooled
      ? { part: partSquare, appraiser: appraiserSquare, repeatability: pooled }
      : { part: partSquare, appraiser: appraiserSquare, interaction, repeatability },
    combinations: isPooled ? pooledCombinations(p, o, r) : keptCombinations(p, o, r),
  };
}

function keptCombinations(p: number, o: number, r: number): GaugeAnova["combinations"] {
  return {
    part: { part: 1 / (o * r), interaction: -1 / (o * r) },
    appraiser: { appraiser: 1 / (p * r), interaction: -1 / (p * r) },
    interaction: { interaction: 1 / r, repeatability: -1 / r },
    repeatability: { repeatability: 1 },
    GRR: { appraiser: 1 / (p * r), interaction: (p - 1) / (p * r), repeatability: (r - 1) / r },
  };
}

function pooledCombinations(p: number, o: number, r: number): GaugeAnova["combinations"] {
  return {
    part: { part: 1 / (o * r), repeatability: -1 / (o * r) },
    appraiser: { appraiser: 1 / (p * r), repeatability: -1 / (p * r) },
    interaction: null,
    repeatability: { repeatability: 1 },
    GRR: { appraiser: 1 / (p * r), repeatability: 1 - 1 / (p * r) },
  };
}

/** @returns the combination's value, which may be negative */
export function estimateOf(combination: Combination, meanSquares: GaugeAnova["meanSquares"]): number {
  let sum = 0;
  for (const term of ["part", "appraiser", "interaction", "repeatability"] as const)
    sum += (combination[term] ?? 0) * (meanSquares[term]?.meanSquare ?? 0);
  return sum;
}

function tested(line: ReturnType<typeof meanSquare>, against: MeanSquare): AnovaLine {
  if (against.meanSquare === 0) return { ...line, F: null, p: line.meanSquare > 0 ? 0 : null };
  const F = line.meanSquare / against.meanSquare;
  // The upper tail as a lower one of 1 / F, so that a small chance keeps its digits.
  const p = F === 0 ? 1 : fCdf(1 / F, against.degrees, line.degrees);
  return { ...line, F, p };
}

function meanSquare(sumOfSquares: number, degrees: number) {
  return { sumOfSquares, degrees, meanSquare: sumOfSquares / degrees };
}

function sumsOfSquares({ values, parts, appraisers, trials }: CrossedStudy) {
  const flat = values.flat(2);
  // About the first value, so that equal ones give zero and large offsets cost no digits.
  const origin = flat[0] ?? 0;
  const cellMeans = values.map((row) => row.map((cell) => mean(cell.map((value) => value - origin))));
  const partMeans = cellMeans.map(mean);
  const appraiserMeans = appraisers.map((_, j) => mean(cellMeans.map((row) => row[j] ?? 0)));
  const grand = mean(partMeans);
  const floor = roundingFloor(flat);
  const squares = (deviations: readonly number[]) => {
    const sum = deviations.reduce((total, deviation) => total + deviation * deviation, 0);
    return sum <= deviations.length * floor * floor ? 0 : sum;
  };
  const [o, p] = [appraisers.length, parts.length];
  return {
    part: o * trials * squares(partMeans.map((of) => of - grand)),
    appraiser: p * trials * squares(appraiserMeans.map((by) => by - grand)),
    interaction:
      trials *
      squares(
        cellMeans.flatMap((row, i) =>
          row.map((cell, j) => cell - (partMeans[i] ?? 0) - (appraiserMeans[j] ?? 0) + grand),
        ),
      ),
    repeatability: squares(
      values.flatMap((row, i) =>
        row.flatMap((cell, j) => cell.map((value) => value - origin - (cellMeans[i]?.[j] ?? 0))),
      ),
    ),
    total: squares(flat.map((value) => value - origin - grand)),
  };
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
