import { DIMENSION_OF } from "../../limits/measurand.ts";
import type { Characteristic, SuspectCondition, SuspectRule } from "../../limits/model.ts";
import { formatMeasuredQuantity, formatNumber, formatQuantity } from "../../limits/print-quantity.ts";
import type { CharacteristicResult } from "./characteristic-result.ts";
import type { Reason } from "./reason.ts";

/** What is likely wrong with a failed unit. */
export interface Suspect {
  readonly cause: string;
  /** Where to look and what to do, in one sentence. */
  readonly lookAt: string;
  /** A short phrase for every condition of the rule. */
  readonly evidence: readonly string[];
}

type RatioCondition = Extract<SuspectCondition, { kind: "ratio" }>;

interface Findings {
  readonly results: readonly CharacteristicResult[];
  readonly reasons: readonly Reason[];
  readonly parts: Readonly<Record<string, string>>;
}

/**
 * What a failed attempt points at, in the order of the rules: of each cause the first rule whose conditions all hold. A
 * condition on what was not measured, or not validly, never holds; the rough size of a gross leak counts as measured.
 * @param results of the attempt, values in SI
 * @param reasons why it failed
 * @param parts the unit's tracked parts, by name
 * @example an open flow of 41.2 L/s and a rule "at most 0.97 times its lower limit", 49 L/s, give
 *   { cause: "blocked path", evidence: ["open flow 41.20 L/s is 0.841 of its lower limit 49 L/s"], ... }
 */
export function suspectsOf(
  rules: readonly SuspectRule[],
  results: readonly CharacteristicResult[],
  reasons: readonly Reason[],
  parts: Readonly<Record<string, string>>,
): readonly Suspect[] {
  const suspects = new Map<string, Suspect>();
  for (const { cause, lookAt, when } of rules) {
    if (suspects.has(cause)) continue;
    const evidence = when.map((condition) => evidenceFor(condition, { results, reasons, parts }));
    if (evidence.length === 0 || !evidence.every((phrase) => phrase !== null)) continue;
    suspects.set(cause, { cause, lookAt, evidence });
  }
  return [...suspects.values()];
}

/** @returns why the condition holds; null where it does not */
function evidenceFor(condition: SuspectCondition, { results, reasons, parts }: Findings): string | null {
  switch (condition.kind) {
    case "ratio": {
      const result = validResult(results, condition.of);
      return result && ratioEvidence(condition, result);
    }
    case "verdict": {
      const result = results.find(({ characteristic }) => characteristic.name === condition.of);
      return result?.verdict === condition.is ? verdictEvidence(result) : null;
    }
    case "finding": {
      const reason = reasons.find((candidate) => condition.codes.some((code) => code === candidate.code));
      return reason ? `found: ${words(reason.code.toLowerCase())}` : null;
    }
    case "part": {
      const number = Object.hasOwn(parts, condition.part) ? parts[condition.part] : undefined;
      if (number === undefined || !condition.pattern.test(number)) return null;
      return `${words(condition.part)} ${number}`;
    }
  }
}

type ValidResult = CharacteristicResult & { readonly value: number };

function validResult(results: readonly CharacteristicResult[], name: string): ValidResult | null {
  const result = results.find(({ characteristic }) => characteristic.name === name);
  if (!result || result.verdict === "void" || result.value === null) return null;
  return Number.isFinite(result.value) ? { ...result, value: result.value } : null;
}

function ratioEvidence({ to, atLeast, atMost }: RatioCondition, result: ValidResult): string | null {
  const { characteristic, value } = result;
  const limit = characteristic[to];
  if (limit === undefined) return null;
  const ratio = value / limit;
  // Over a limit of zero there is no ratio.
  if (!Number.isFinite(ratio) || (atLeast !== undefined && ratio < atLeast)) return null;
  if (atMost !== undefined && ratio > atMost) return null;
  const times = ratioText(ratio, [1, atLeast ?? 1, atMost ?? 1]);
  const limitText = formatQuantity(limit, DIMENSION_OF[characteristic.measurand], characteristic.unit);
  const what = `${words(characteristic.name)} ${measuredText(characteristic, value)}`;
  return `${what} is ${times} ${ratio < 1 ? "of" : "times"} its ${to} limit ${limitText}`;
}

/** @example "leak rate fails with 78.00 mL/min (above the upper limit)" */
function verdictEvidence(result: CharacteristicResult): string {
  const { characteristic, value, verdict, why } = result;
  const what = `${words(characteristic.name)} ${verdict === "pass" ? "passes" : "fails"}`;
  // A unit that could not be sealed fails without a value.
  const measured = value === null ? "" : ` with ${measuredText(characteristic, value)}`;
  return `${what}${measured}${why === undefined ? "" : ` (${why})`}`;
}

/** Three digits, and as many more as it takes to see on which side of a bound the ratio lies. */
function ratioText(ratio: number, bounds: readonly number[]): string {
  let text = "";
  for (let significant = 3; significant <= 15; significant++) {
    text = formatNumber(ratio, { significant });
    const shown = Number(text);
    if (bounds.every((bound) => Math.sign(shown - bound) === Math.sign(ratio - bound))) break;
  }
  return text;
}

/** A value in its limit's unit, with digits enough to see on which side of the limits it lies. */
function measuredText({ measurand, unit, lower, upper }: Characteristic, value: number): string {
  const comparedWith = [lower, upper].filter((limit) => limit !== undefined);
  return formatMeasuredQuantity({ value, comparedWith }, DIMENSION_OF[measurand], unit);
}

function words(name: string): string {
  return name.replaceAll("_", " ");
}
