import { formatNumber } from "../../../limits/print-quantity.ts";
import { rangeChart } from "./average-and-range.ts";
import type { CrossedStudy } from "./crossed-study.ts";
import { AIAG_POOLING } from "./gauge-anova.ts";
import type { Repeatability, Tolerance } from "./repeatability.ts";

export interface NotedSettings {
  readonly unit?: string | undefined;
  readonly tolerance?: Tolerance | undefined;
  readonly poolAbove?: number | undefined;
}

/** What a reader of the figures must know. */
export function repeatabilityNotes(
  study: CrossedStudy,
  found: Repeatability,
  settings: NotedSettings,
): string[] {
  return [
    ...leftOut(study),
    ...design(study),
    ...interaction(found, settings.poolAbove ?? AIAG_POOLING.poolAbove),
    ...setToZero(found),
    ...tolerance(found, settings),
    ...outOfControl(study),
    ...resolution(study),
    ...intervals(found),
  ];
}

function leftOut({ leftOut }: CrossedStudy): string[] {
  return leftOut.length === 0
    ? []
    : [
        `Left out, because not everybody measured them equally often: ${leftOut.length === 1 ? "part" : "parts"} ${leftOut.join(", ")}.`,
      ];
}

function design({ parts, appraisers, trials }: CrossedStudy): string[] {
  const notes: string[] = [];
  if (appraisers.length === 1) {
    notes.push(
      "One appraiser only: how appraisers differ can't be estimated, and GRR is repeatability alone. That is the whole of it only where nobody's hand matters.",
    );
  }
  if (parts.length * appraisers.length <= 15 || parts.length < 5) {
    notes.push(
      `A small study: ${parts.length * appraisers.length * trials} values say little of the spread. Usual are 10 parts, 3 appraisers, 2 or 3 trials, and parts x appraisers above 15 (AIAG, from memory).`,
    );
  }
  return notes;
}

function interaction({ anova }: Repeatability, poolAbove: number): string[] {
  if (!anova?.interaction || !anova.interactionIs) return [];
  const { p } = anova.interaction;
  if (p === null) return [];
  const chance = p < 0.0001 ? "p < 0.0001" : `p ${formatNumber(p, { significant: 3 })}`;
  return anova.interactionIs === "pooled"
    ? [
        `Part x appraiser is pooled into repeatability (${chance}; by default pooled above ${poolAbove}). Kept, the figures differ somewhat: --interaction keep.`,
      ]
    : [
        `Part x appraiser is kept apart from repeatability (${chance}; by default pooled above ${poolAbove}).`,
      ];
}

const WORDS = { AV: "appraiser (AV)", INT: "part x appraiser (INT)", PV: "part (PV)" } as const;

function setToZero({ setToZero: names }: Repeatability): string[] {
  return names.map(
    (name) => `The estimate for ${WORDS[name]} is below zero, which a spread can't be: it is set to zero.`,
  );
}

function tolerance(found: Repeatability, { tolerance: given }: NotedSettings): string[] {
  if (!given || found.components.GRR.pct_tolerance === null) return [];
  if ("width" in given || (given.lower !== undefined && given.upper !== undefined))
    return ["% tolerance is six standard deviations in the tolerance (AIAG, 4th ed.; older ones take 5.15)."];
  return [
    "With a single limit, % tolerance is three standard deviations in the distance from the parts' mean to it (common practice, no source).",
  ];
}

function outOfControl(study: CrossedStudy): string[] {
  const { ranges, UCL } = rangeChart(study);
  const wide = ranges.filter(({ range }) => range > UCL);
  if (wide.length === 0) return [];
  const named = wide.slice(0, 5).map(({ part, appraiser }) => `part ${part} by ${appraiser}`);
  const more = wide.length > 5 ? ` and ${wide.length - 5} more` : "";
  return [
    `The trials of ${named.join(", ")}${more} lie unusually far apart (range above its control limit): look for a misreading or a part that was put on badly, and measure again.`,
  ];
}

function resolution(study: CrossedStudy): string[] {
  const { ranges } = rangeChart(study);
  const zero = ranges.filter(({ range }) => range === 0).length;
  return 4 * zero > ranges.length
    ? [
        `In ${zero} of ${ranges.length} cells all trials are equal, more than a quarter: the gauge's steps are too coarse to see its spread (AIAG, from memory).`,
      ]
    : [];
}

function intervals({ method }: Repeatability): string[] {
  return method === "range"
    ? ["The range method gives no confidence intervals: --method anova does."]
    : [
        "Intervals: 95 %, modified large sample (Burdick, Borror and Montgomery, 2003, from memory), made as if it had been settled beforehand whether to pool.",
      ];
}
