import { NoStudy } from "../study-report.ts";
import { baselineNotes, checkedOptions } from "./baseline.ts";
import { asLevel, type ChartedProcess, type ChartOptions } from "./control-chart.ts";
import { type RunRule, signalsOf, USUAL_RULES } from "./run-rules.ts";

/** A sample: failing units among so many (p), or defects on so much (u). */
export interface CountedSample {
  readonly count: number;
  /** Units inspected (p: whole), or units, area or time looked at (u); above 0. */
  readonly size: number;
}

export interface AttributeOptions extends Omit<ChartOptions, "sigma"> {
  readonly kind: "p" | "u";
  readonly rules?: readonly RunRule[] | undefined;
}

/** Fewer expected in a sample, and a normal approximation's limits are rough; common practice, no source. */
const FEW_EXPECTED = 5;

/**
 * Chart of proportions (p) or of counts per unit (u); with every size 1 a u chart is a c chart. Sizes may differ: each point then has
 * limits of its own. Limits are the normal approximation's, held within 0 and 1 (p) and above 0 (u).
 * @param options target: the proportion or rate the process is known to have, in place of the samples' own
 * @throws NoStudy for counts that are not whole or below 0, above the size (p), sizes not above 0, and where nothing or everything
 * was counted, so that there is no scatter to set limits by
 * @see NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.1 and 6.3.3.2; ISO 7870-2
 * @example attributeChart([{ count: 12, size: 50 }, { count: 15, size: 50 }], { kind: "p" }).figures.pbar // 0.27
 */
export function attributeChart(samples: readonly CountedSample[], options: AttributeOptions): ChartedProcess {
  const { kind, rules = USUAL_RULES } = options;
  const noun = "sample";
  const isStated = options.target !== undefined;
  const { target, width, baseline } = checkedOptions(options, {
    count: samples.length,
    least: 2,
    noun,
    isStated,
  });
  for (const [i, sample] of samples.entries()) checkSample(sample, kind, i + 1);
  const centre = centreOf(samples.slice(0, baseline), kind, target);
  const { CL, spread } = centre;
  const values = samples.map(({ count, size }) => count / size);
  const sigmas = samples.map(({ size }) => spread / Math.sqrt(size));
  const most = kind === "p" ? 1 : Number.POSITIVE_INFINITY;
  const chart = {
    name: kind === "p" ? "proportions" : "counts per unit",
    noun,
    values,
    first: 1,
    CL,
    UCL: asLevel(sigmas.map((sigma) => Math.min(most, CL + width * sigma))),
    LCL: asLevel(sigmas.map((sigma) => Math.max(0, CL - width * sigma))),
  };
  const estimatedFrom = isStated ? 0 : baseline;
  const isCounts = kind === "u" && samples.every(({ size }) => size === 1);
  const leastSize = samples.reduce((least, { size }) => Math.min(least, size), Number.POSITIVE_INFINITY);
  const expected = leastSize * (kind === "p" ? Math.min(CL, 1 - CL) : CL);
  return {
    title: kind === "p" ? "p chart" : isCounts ? "u chart of samples of one unit (c chart)" : "u chart",
    noun,
    charts: [{ ...chart, signals: signalsOf({ ...chart, sigma: sigmas }, rules) }],
    estimatedFrom,
    figures: {
      n: samples.length,
      [kind === "p" ? "pbar" : "ubar"]: CL,
      ...(isCounts ? { cbar: CL } : {}),
      sigma: asLevel(sigmas),
      CL,
      UCL: chart.UCL,
      LCL: chart.LCL,
      count: samples.map(({ count }) => count),
      size: asLevel(samples.map(({ size }) => size)),
      [kind]: values,
    },
    notes: [
      ...baselineNotes(estimatedFrom, noun, samples.length),
      ...(typeof chart.UCL === "number"
        ? []
        : ["The samples differ in size: each point has limits of its own."]),
      ...(expected < FEW_EXPECTED
        ? [
            `The smallest sample has ${expected.toPrecision(2)} to be expected in it: under ${FEW_EXPECTED} the limits are rough and false alarms above them more frequent; take larger samples.`,
          ]
        : []),
    ],
  };
}

function checkSample({ count, size }: CountedSample, kind: "p" | "u", number: number): void {
  const no = (what: string) => new NoStudy(`Sample ${number}: ${what}.`);
  if (!(Number.isInteger(count) && count >= 0))
    throw no(`the count is ${count}, expected a whole number from 0`);
  if (!(size > 0 && Number.isFinite(size)))
    throw no(
      `the size is ${size}, expected a number above 0; leave out samples in which nothing was looked at`,
    );
  if (kind === "p" && !Number.isInteger(size))
    throw no(`the size is ${size}, expected a whole number of units`);
  if (kind === "p" && count > size)
    throw no(`${count} of ${size} units can't fail; where one unit may have several defects, draw a u chart`);
}

function centreOf(
  samples: readonly CountedSample[],
  kind: "p" | "u",
  target: number | undefined,
): { readonly CL: number; readonly spread: number } {
  if (target !== undefined && !(target > 0 && (kind === "u" || target < 1)))
    throw new NoStudy(
      kind === "p"
        ? "The target of a p chart is a proportion: give a number between 0 and 1."
        : "The target of a u chart is a rate: give a number above 0.",
    );
  const count = samples.reduce((sum, sample) => sum + sample.count, 0);
  const size = samples.reduce((sum, sample) => sum + sample.size, 0);
  const CL = target ?? count / size;
  if (CL === 0)
    throw new NoStudy(
      `Nothing was counted in ${samples.length} samples: there is no scatter to set limits by. Take larger samples, or state the target.`,
    );
  if (kind === "p" && CL === 1)
    throw new NoStudy(
      `All units of ${samples.length} samples were counted: there is no scatter to set limits by.`,
    );
  return { CL, spread: Math.sqrt(kind === "p" ? CL * (1 - CL) : CL) };
}
