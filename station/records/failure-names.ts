import type { Traveller } from "./traveller.ts";

/** Findings of which a leak characteristic tells as well: without a rate, or with an estimate of it. */
const GROSS: readonly string[] = ["GROSS_LEAK", "UNIT_NOT_SEALED"];

/**
 * What a unit failed by, in the words the Pareto counts: what a phase found, then the characteristics out of limits. A leak
 * too large to be measured is a failure of the leak rate, and no other one than a leak that could be measured.
 * @example failureNames(traveller) // ["motor did not start"], or ["leak rate", "suction power"]
 */
export function failureNames(traveller: Pick<Traveller, "reasons" | "characteristics">): string[] {
  const failing = traveller.characteristics.filter(({ verdict }) => verdict === "fail");
  const isToldByRate = failing.some(isGross);
  const found = traveller.reasons
    .filter(({ code }) => code !== "OUT_OF_LIMITS" && !(isToldByRate && GROSS.includes(code)))
    .map(({ code }) => wordsOf(code));
  return [...found, ...failing.map(({ name }) => wordsOf(name))];
}

/** @returns of a leak too large to be measured, how it was found: "gross leak", "unit not sealed"; null of others */
export function grossFinding(traveller: Pick<Traveller, "reasons" | "characteristics">): string | null {
  if (!traveller.characteristics.some((it) => it.verdict === "fail" && isGross(it))) return null;
  const code = traveller.reasons.find((reason) => GROSS.includes(reason.code))?.code;
  return code === undefined ? null : wordsOf(code);
}

function isGross({ uncertainty }: Traveller["characteristics"][number]): boolean {
  return uncertainty === null;
}

/** @example wordsOf("GROSS_LEAK") // "gross leak" */
function wordsOf(text: string): string {
  return text.toLowerCase().replaceAll("_", " ");
}
