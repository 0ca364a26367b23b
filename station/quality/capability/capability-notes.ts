import { LEAST_P } from "../distributions/choose.ts";
import type { Capability, CapabilitySettings, PerformanceMethod } from "./capability.ts";
import { LEAST_FOR_PERCENTILES } from "./empirical-indices.ts";
import type { WithinMethod } from "./within-sigma.ts";

/** No answer from fewer (common practice, no source). */
export const FEW = 30;
/** AIAG PPAP, 4th edition, 2.2.11, for an initial process study: 25 subgroups and 100 readings (from memory). */
const ENOUGH = 100;
/** A gauge that knows no more values than that within the scatter is too coarse (AIAG MSA asks for 5 distinct categories). */
const FEWEST_DISTINCT = 5;

export function withinWords(method: WithinMethod): string {
  return {
    "moving range": "mean moving range / d2",
    range: "mean range of subgroups / d2",
    pooled: "pooled of subgroups",
  }[method];
}

export function methodWords(method: PerformanceMethod | null): string {
  if (method === null) return "";
  return {
    normal: "overall standard deviation",
    "fitted percentiles": "percentiles of the fitted distribution (ISO 22514-2)",
    "empirical percentiles": "percentiles of the values themselves (ISO 22514-2)",
  }[method];
}

/** What a reader of the figures must know, a sentence each. */
export function capabilityNotes(found: Capability, settings: CapabilitySettings): string[] {
  return [...dataNotes(found), ...distributionNotes(found, settings), ...stabilityNotes(found)];
}

function dataNotes({ sample, distinct, within, subgroupCount, short }: Capability): string[] {
  const { n } = sample;
  return [
    ...(n < ENOUGH
      ? [
          `${n} values: an index takes ${FEW} at least (common practice, no source), and ${ENOUGH} in 25 subgroups to rely on (AIAG PPAP, 4th ed., from memory).`,
        ]
      : []),
    ...(distinct <= FEWEST_DISTINCT
      ? [`Only ${distinct} different values: the gauge reads too coarsely for the process.`]
      : []),
    ...(within === null && subgroupCount !== null
      ? ["The subgroups show no scatter of their own: there is no Cp and no Cpk."]
      : []),
    ...(within?.method === "moving range"
      ? ["Cp and Cpk by moving ranges take the values as being in the order in which they were made."]
      : []),
    ...(short && !short.p
      ? ["One limit only: there is no Cp and no Pp, and Cpk and Ppk are by that limit."]
      : []),
  ];
}

function distributionNotes(found: Capability, { distribution, upper }: CapabilitySettings): string[] {
  const { chosen, choice, nonPositive, sample, method } = found;
  const notes: string[] = [];
  if (choice && choice.withoutZero.length > 0) {
    notes.push(
      `${nonPositive} of the values ${nonPositive === 1 ? "is" : "are"} zero or below: ${choice.withoutZero.join(", ")} have no place for them and were not tried.`,
    );
  }
  if (choice && chosen) {
    notes.push(
      `Distribution: the first in order of AICc that Anderson and Darling's test does not refuse at ${LEAST_P * 100} % (normal first where its AICc is within 2 of the least).`,
    );
  }
  if (choice && !chosen) {
    notes.push(
      `Anderson and Darling's test refuses every distribution tried. ${
        method
          ? "The percentiles are those of the values themselves, and nothing is said of what lies beyond them."
          : `Percentiles of the values themselves take ${LEAST_FOR_PERCENTILES} values. Are two processes mixed, such as two cavities? Try drumtight study compare.`
      }`,
    );
  }
  if (distribution !== "auto" && chosen?.goodness && chosen.goodness.p < LEAST_P) {
    notes.push(
      `The values are not ${chosen.words} by Anderson and Darling's test (p ${chosen.goodness.p.toFixed(3)}): figures that rest on it mislead.`,
    );
  }
  if (method !== "normal") {
    notes.push("Cp and Cpk presume a normal distribution, which these values don't have: go by Ppk.");
  }
  if (
    upper !== undefined &&
    sample.n < LEAST_FOR_PERCENTILES &&
    method === "fitted percentiles" &&
    found.percentiles &&
    found.percentiles.high > found.largest
  ) {
    notes.push(
      "X99.865 lies beyond the largest value: it rests on the form of the distribution, not on values.",
    );
  }
  return notes;
}

function stabilityNotes({ stability, within }: Capability): string[] {
  if (stability?.inControl !== false || !within) return [];
  const { outside, points, expectedOutside, drift_p } = stability;
  const what = within.method === "moving range" ? "values" : "means of subgroups";
  const seen = [
    `${outside} of ${points} ${what} lie beyond 3 sigma${expectedOutside === null ? "" : `, ${expectedOutside.toPrecision(2)} expected`}`,
    ...(drift_p !== null && drift_p < 0.01
      ? [
          within.method === "moving range"
            ? "neighbours are more alike than values far apart"
            : "the subgroups differ by more than their scatter",
        ]
      : []),
  ];
  return [
    `Not in control: ${seen.join("; ")}. Capability presumes a process that stays where it is: look at drumtight study chart.`,
  ];
}
