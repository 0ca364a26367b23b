/** What the records say of a unit's attempt, as far as it matters here. */
export interface UnitAttempt {
  readonly recordKind: "unit" | "reference";
  readonly serial: string;
  readonly draft: boolean;
  readonly verdict: "pass" | "fail" | "void";
  /** What a fail failed by. */
  readonly causes: readonly string[];
}

/** Different units in a row that failed by the same. */
export interface SameFail {
  readonly cause: string;
  /** In the order in which they were tested. */
  readonly serials: readonly string[];
}

/**
 * Whether the last units all failed by the same: then fixture, gauges or a mould are more likely at fault than the units.
 * A unit tested again counts once, by its newest valid test. Voids, drafts and reference pieces are passed over.
 * @param attempts newest first
 * @param count so many different units
 * @returns the cause that the longest row has in common; null while no row is that long
 * @example sameFail([fail("POD3", "leak rate"), fail("POD2", "leak rate")], 2) // { cause: "leak rate", serials: ["POD2", "POD3"] }
 */
export function sameFail(attempts: readonly UnitAttempt[], count: number): SameFail | null {
  const units = newestOfEach(attempts);
  const causes = units[0]?.verdict === "fail" ? units[0].causes : [];
  let longest: SameFail | null = null;
  for (const cause of causes) {
    const end = units.findIndex((unit) => unit.verdict !== "fail" || !unit.causes.includes(cause));
    const row = units.slice(0, end < 0 ? units.length : end);
    if (row.length >= count && row.length > (longest?.serials.length ?? 0)) {
      longest = { cause, serials: row.map(({ serial }) => serial).reverse() };
    }
  }
  return longest;
}

function newestOfEach(attempts: readonly UnitAttempt[]): readonly UnitAttempt[] {
  const newest = new Map<string, UnitAttempt>();
  for (const attempt of attempts) {
    const isCounted = attempt.recordKind === "unit" && !attempt.draft && attempt.verdict !== "void";
    if (isCounted && !newest.has(attempt.serial)) newest.set(attempt.serial, attempt);
  }
  return [...newest.values()];
}
