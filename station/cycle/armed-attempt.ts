import type { ModelLimits } from "../../limits/model.ts";
import type { SignedIn } from "../people/person.ts";
import type { PreparedAttempt } from "./attempt.ts";

/** @returns names of the parts this model requires and these are not, in the limit file's order */
export function missingParts(parts: Readonly<Record<string, string>>, limits: ModelLimits): string[] {
  return limits.parts
    .filter(({ name, required }) => required && parts[name] === undefined)
    .map(({ name }) => name);
}

/** @returns the attempt with these parts too; a part scanned anew takes the place of the one before, and a reference piece has none */
export function withParts(
  attempt: PreparedAttempt,
  scanned: Readonly<Record<string, string>>,
): PreparedAttempt {
  if (attempt.reference) return attempt;
  const parts = { ...attempt.parts, ...scanned };
  return { ...attempt, parts, missingParts: attempt.study ? [] : missingParts(parts, attempt.limits) };
}

/** @returns the reasons that may be chosen from: until the start another one, too */
export function retestChoices({ retestReasons, retestReason, limits }: PreparedAttempt): readonly string[] {
  return retestReason === null ? retestReasons : limits.retest.reasons;
}

/**
 * @param index of `retestChoices`, from 0
 * @returns the attempt with its reason; null when there is no such one to choose
 */
export function withRetestReason(attempt: PreparedAttempt, index: number): PreparedAttempt | null {
  const retestReason = retestChoices(attempt)[index];
  return retestReason === undefined ? null : { ...attempt, retestReasons: [], retestReason };
}

/** @returns the attempt as this person's, who has taken over since it was armed */
export function withPerson(attempt: PreparedAttempt, who: SignedIn): PreparedAttempt {
  return { ...attempt, who };
}
