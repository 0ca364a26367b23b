import type { Reason } from "./reason.ts";

/** What a test did not come to; it needs no reason of its own where another one stopped it. */
export const NOT_REACHED = "not measured";

/** A characteristic without a valid value, and why: a clause, or sentences that may say what to do. */
export interface MissingValue {
  readonly name: string;
  readonly why: string;
}

/**
 * Why an attempt has no valid verdict: what is missing, why, and once that the unit is to be tested again.
 * @example missingValues([{ name: "leak rate", why: "too few samples" }]).sentence
 *   // "No valid value for leak rate: too few samples. Test the unit again."
 */
export function missingValues(missing: readonly MissingValue[]): Reason {
  const stopping = missing.filter(({ why }) => why !== NOT_REACHED);
  const namesByWhy = new Map<string, string[]>();
  for (const { name, why } of stopping.length > 0 ? stopping : missing) {
    namesByWhy.set(why, [...(namesByWhy.get(why) ?? []), name.replaceAll("_", " ")]);
  }
  const said = [...namesByWhy].map(([why, names]) => {
    const what = `No valid value for ${names.join(", ")}`;
    if (why === NOT_REACHED) return `${what}.`;
    return why.endsWith(".") ? `${what}. ${why}` : `${what}: ${why}.`;
  });
  const sentence = said.join(" ") || "No valid value for any characteristic.";
  return {
    code: "NOT_MEASURED",
    sentence: saysAgain(sentence) ? sentence : `${sentence} Test the unit again.`,
  };
}

function saysAgain(sentence: string): boolean {
  return sentence.toLowerCase().includes("test the unit again");
}
