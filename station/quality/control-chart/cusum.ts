import { formatMeasured, formatNumber } from "../../../limits/print-quantity.ts";
import { NoStudy } from "../study-report.ts";
import { baselineNotes, checkedOptions, finite, meanOf } from "./baseline.ts";
import type { ChartedProcess, ChartOptions } from "./control-chart.ts";
import { shortTermSigma } from "./individuals.ts";
import type { Signal } from "./run-rules.ts";

export interface CusumOptions extends Omit<ChartOptions, "width"> {
  /** K, in the values' unit: half of the shift that matters; half a sigma unless stated. */
  readonly allowance?: number | undefined;
  /** H, in the values' unit: sums above it signal; five sigma unless stated. */
  readonly decision?: number | undefined;
  /** Both sums begin again at zero after a signal, as after an adjustment; else they go on. */
  readonly reset?: boolean | undefined;
}

/** k and h of the usual chart, in sigma: a false alarm in some 465 points, a shift of one sigma found in ten. */
const [USUAL_K, USUAL_H] = [0.5, 5];

/** The two sums at each point, and for how many points each has been above zero. */
interface Sums {
  readonly hi: number[];
  readonly lo: number[];
  readonly nHi: number[];
  readonly nLo: number[];
}

/**
 * Tabular CUSUM: sums of what exceeds the target by more than the allowance, upwards (hi) and downwards (lo), never below zero.
 * @throws NoStudy for an allowance below 0, a decision interval not above 0, too few or equal values where sigma is needed
 * @see D. C. Montgomery, Introduction to Statistical Quality Control, the tabular CUSUM; NIST/SEMATECH e-Handbook, 6.3.2.3; ISO
 * 7870-4. Where the shift began and how large it is: the last point at which the sum was zero, and target + K + sum / points since
 * @example cusumChart([10.5, 11, 12], { target: 10, allowance: 0.5, decision: 5 }).figures.hi // [0, 0.5, 2]
 */
export function cusumChart(values: readonly number[], options: CusumOptions): ChartedProcess {
  const noun = "point";
  const { reset = false } = options;
  const isSigmaNeeded = options.allowance === undefined || options.decision === undefined;
  const isStated = options.target !== undefined && (options.sigma !== undefined || !isSigmaNeeded);
  const { baseline, ...stated } = checkedOptions(options, { count: values.length, least: 3, noun, isStated });
  const sigma = stated.sigma ?? (isSigmaNeeded ? shortTermSigma(values.slice(0, baseline)) : null);
  const target = stated.target ?? meanOf(values.slice(0, baseline));
  const K = options.allowance ?? USUAL_K * (sigma ?? 0);
  const H = options.decision ?? USUAL_H * (sigma ?? 0);
  if (!(K >= 0 && Number.isFinite(K)))
    throw new NoStudy(
      "The allowance is half of the shift that matters, in the values' unit: give a number from 0.",
    );
  if (!(H > 0 && Number.isFinite(H)))
    throw new NoStudy(
      "The decision interval is in the values' unit: give a number above 0; five sigma is usual.",
    );
  const sums = sumsOf(values, { target, K, H, reset });
  finite(target, sums.hi.at(-1) ?? 0, sums.lo.at(-1) ?? 0);
  const told = { values, target, K, H };
  const signals = [
    ...signalsIn(sums.hi, sums.nHi, "hi", told),
    ...signalsIn(sums.lo, sums.nLo, "lo", told),
  ].sort((a, b) => a.signal.index - b.signal.index);
  const [first] = signals;
  const estimatedFrom = isStated ? 0 : baseline;
  const of = (side: Side) => signals.filter((it) => it.side === side).map(({ signal }) => signal);
  return {
    title: "Tabular CUSUM chart",
    noun,
    charts: [
      { name: NAMES.hi, values: sums.hi, first: 1, CL: 0, UCL: H, LCL: 0, signals: of("hi") },
      // Drawn below zero, where a reader looks for what fell.
      {
        name: NAMES.lo,
        values: sums.lo.map((sum) => 0 - sum),
        first: 1,
        CL: 0,
        UCL: 0,
        LCL: -H,
        signals: of("lo"),
      },
    ],
    estimatedFrom,
    figures: {
      n: values.length,
      target,
      sigma,
      allowance: K,
      decision: H,
      reset,
      shift_began: first ? first.began : null,
      shift_estimate: first ? first.level : null,
      values,
      hi: sums.hi,
      lo: sums.lo,
      n_hi: sums.nHi,
      n_lo: sums.nLo,
    },
    notes: [
      ...baselineNotes(estimatedFrom, noun, values.length),
      ...(stated.target === undefined
        ? [
            "No target was stated: the values' own mean is taken for it, and a shift that was there all along is not seen.",
          ]
        : []),
      ...(signals.length > 0
        ? [
            reset
              ? "After each signal both sums began again at zero."
              : "After a signal the sums go on; with a reset they would begin again at zero, as after an adjustment.",
          ]
        : []),
    ],
  };
}

type Side = "hi" | "lo";
const NAMES: Readonly<Record<Side, string>> = { hi: "upper sums", lo: "lower sums" };

function sumsOf(
  values: readonly number[],
  { target, K, H, reset }: { target: number; K: number; H: number; reset: boolean },
): Sums {
  const sums: Sums = { hi: [], lo: [], nHi: [], nLo: [] };
  let [hi, lo, nHi, nLo] = [0, 0, 0, 0];
  for (const value of values) {
    hi = clean(hi + (value - target - K), value);
    lo = clean(lo + (target - K - value), value);
    nHi = hi > 0 ? nHi + 1 : 0;
    nLo = lo > 0 ? nLo + 1 : 0;
    sums.hi.push(hi);
    sums.lo.push(lo);
    sums.nHi.push(nHi);
    sums.nLo.push(nLo);
    if (reset && (isBeyond(hi, H) || isBeyond(lo, H))) [hi, lo, nHi, nLo] = [0, 0, 0, 0];
  }
  return sums;
}

/** A sum that is zero but for the last bits of its terms is zero, or a shift would seem to have begun there. */
function clean(sum: number, value: number): number {
  return sum > 4 * Number.EPSILON * Math.abs(value) ? sum : 0;
}

function isBeyond(sum: number, H: number): boolean {
  return sum > H * (1 + 1e-9);
}

interface CusumSignal {
  readonly side: Side;
  readonly signal: Signal;
  readonly began: number;
  readonly level: number;
}

function signalsIn(
  sums: readonly number[],
  counts: readonly number[],
  side: Side,
  { target, K, H }: { target: number; K: number; H: number },
): CusumSignal[] {
  const found: CusumSignal[] = [];
  for (let i = 0; i < sums.length; i++) {
    const sum = sums[i] ?? 0;
    if (!isBeyond(sum, H)) continue;
    const start = i;
    const count = counts[i] ?? 1;
    // The same excursion signals once, until its sum has been back at zero.
    let last = start;
    while (i + 1 < sums.length && (counts[i + 1] ?? 0) > (counts[i] ?? 0)) {
      i++;
      if (isBeyond(sums[i] ?? 0, H)) last = i;
    }
    const began = start - count + 2;
    const level = target + (side === "hi" ? 1 : -1) * (K + sum / count);
    const number = (value: number) => formatNumber(value, { significant: 5 });
    found.push({
      side,
      began,
      level,
      signal: {
        index: start + 1,
        from: began,
        to: last + 1,
        rule: "beyond the decision interval",
        chart: NAMES[side],
        sentence: `At point ${start + 1} the ${side === "hi" ? "upper" : "lower"} sum, ${formatMeasured({ value: sum, comparedWith: [H] }).value}, is beyond ${number(H)}: the process has gone ${side === "hi" ? "up" : "down"} to about ${number(level)}, since point ${began} or so.`,
      },
    });
  }
  return found;
}
