import type { Traveller } from "./traveller.ts";

/**
 * What a unit failed by, in the words the Pareto counts: what a phase found, then the characteristics out of limits.
 * @example failureNames(traveller) // ["gross leak"], or ["leak rate", "suction power"]
 */
export function failureNames(traveller: Pick<Traveller, "reasons" | "characteristics">): string[] {
  const found = traveller.reasons
    .filter((reason) => reason.code !== "OUT_OF_LIMITS")
    .map((reason) => reason.code.toLowerCase().replaceAll("_", " "));
  const out = traveller.characteristics
    .filter((it) => it.verdict === "fail" && it.uncertainty !== null)
    .map((it) => it.name.replaceAll("_", " "));
  return [...found, ...out];
}
