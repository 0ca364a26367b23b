import { LARGEST_SUBGROUP } from "../control-chart/range-distribution.ts";
import { NoStudy } from "../study-report.ts";
import { inNaturalOrder } from "./natural-order.ts";

/** One value of one part, by one appraiser. */
export interface GaugeReading {
  readonly part: string;
  readonly appraiser: string;
  /** Which of the repeated measurements; the name alone counts, not its order. */
  readonly trial: string;
  readonly value: number;
  /** Where it stands, for messages: "line 7". */
  readonly place?: string;
}

/** Every part measured by every appraiser equally often, in an order that does not depend on the readings'. */
export interface CrossedStudy {
  readonly parts: readonly string[];
  readonly appraisers: readonly string[];
  /** Trials of each appraiser on each part. */
  readonly trials: number;
  /** Values by part, then appraiser, then trial. */
  readonly values: readonly (readonly (readonly number[])[])[];
  readonly readings: readonly GaugeReading[];
  /** Parts left out because a value of theirs is missing. */
  readonly leftOut: readonly string[];
}

/** Cells that are not as the others, beside the first. */
const MOST_NAMED = 3;

export interface CrossedOptions {
  /** Leave out parts that not everybody measured equally often, instead of refusing the study. */
  readonly completePartsOnly?: boolean;
}

/**
 * Sorts readings into a crossed study.
 * @throws NoStudy where a cell is missing, doubled or unequal (it is named), with fewer than two parts or
 * trials, and with more than 10,000
 */
export function crossedStudy(
  given: readonly GaugeReading[],
  { completePartsOnly = false }: CrossedOptions = {},
): CrossedStudy {
  const cells = cellsOf(given);
  const appraisers = inNaturalOrder(given.map(({ appraiser }) => appraiser));
  const all = inNaturalOrder(given.map(({ part }) => part));
  const countOf = (part: string, appraiser: string) => cells.get(part)?.get(appraiser)?.length ?? 0;
  const trials = mostCommon(all.flatMap((part) => appraisers.map((appraiser) => countOf(part, appraiser))));
  const unequal = all.flatMap((part) =>
    appraisers.map((by) => ({ part, by, count: countOf(part, by) })).filter(({ count }) => count !== trials),
  );
  const leftOut = all.filter((part) => unequal.some((cell) => cell.part === part));
  const [first, ...others] = unequal;
  if (first !== undefined && !completePartsOnly) {
    const named = others
      .slice(0, MOST_NAMED)
      .map(({ part, by, count }) => `; part ${part} ${values(count)} by ${by}`);
    const more = others.length > MOST_NAMED ? `; and ${others.length - MOST_NAMED} more like these` : "";
    throw new NoStudy(
      `Part ${first.part} has ${values(first.count)} by appraiser ${first.by} where ${values(trials)} ${trials === 1 ? "is" : "are"} usual${named.join("")}${more}: every appraiser must measure every part equally often. Complete the readings, or leave such parts out with --complete-parts-only.`,
    );
  }
  const parts = all.filter((part) => !leftOut.includes(part));
  if (parts.length < 2) {
    const why = leftOut.length > 0 ? " that everybody measured equally often" : "";
    throw new NoStudy(
      `The study has ${parts.length === 0 ? "no part" : "one part only"}${why}: measure two or more, better ten that differ as production does. For one piece with a known value there is study type1.`,
    );
  }
  if (trials < 2) {
    throw new NoStudy(
      "Each appraiser measured each part once: repeatability shows only when a part is measured again. Measure every part twice or three times.",
    );
  }
  if (Math.max(parts.length, appraisers.length, trials) > LARGEST_SUBGROUP) {
    throw new NoStudy(
      `A gauge study has ${LARGEST_SUBGROUP} parts, appraisers and trials at most: take a part of the data.`,
    );
  }
  const sorted = (part: string, appraiser: string) =>
    [...(cells.get(part)?.get(appraiser) ?? [])].sort((a, b) => a.value - b.value);
  return {
    parts,
    appraisers,
    trials,
    values: parts.map((part) => appraisers.map((by) => sorted(part, by).map(({ value }) => value))),
    readings: parts.flatMap((part) =>
      appraisers.flatMap((appraiser) => inTrialOrder(cells.get(part)?.get(appraiser) ?? [])),
    ),
    leftOut,
  };
}

type Cells = Map<string, Map<string, GaugeReading[]>>;

function cellsOf(given: readonly GaugeReading[]): Cells {
  const cells: Cells = new Map();
  for (const reading of given) {
    const { part, appraiser, trial } = reading;
    const ofPart = cells.get(part) ?? new Map<string, GaugeReading[]>();
    const cell = ofPart.get(appraiser) ?? [];
    if (cell.some((other) => other.trial === trial)) {
      const { place } = reading;
      throw new NoStudy(
        `${place === undefined ? "" : `${place}: `}part ${part}, appraiser ${appraiser}, trial ${trial} is there twice: give each of its values a trial of its own.`,
      );
    }
    cell.push(reading);
    ofPart.set(appraiser, cell);
    cells.set(part, ofPart);
  }
  return cells;
}

function inTrialOrder(cell: readonly GaugeReading[]): GaugeReading[] {
  return inNaturalOrder(cell.map(({ trial }) => trial)).flatMap((trial) =>
    cell.filter((reading) => reading.trial === trial),
  );
}

/** The larger of two that are as common. */
function mostCommon(counts: readonly number[]): number {
  const seen = new Map<number, number>();
  for (const count of counts) if (count > 0) seen.set(count, (seen.get(count) ?? 0) + 1);
  return [...seen].sort(([a, n], [b, m]) => m - n || b - a)[0]?.[0] ?? 0;
}

function values(count: number): string {
  return count === 0 ? "no value" : count === 1 ? "one value" : `${count} values`;
}
