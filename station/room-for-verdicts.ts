import { guardedLimits } from "../limits/judge.ts";
import { DIMENSION_OF } from "../limits/measurand.ts";
import type { Characteristic } from "../limits/model.ts";
import { formatQuantity } from "../limits/print-quantity.ts";
import { HOUSE_REFERENCE } from "../limits/quantity.ts";

/** What uncertainty leaves of the values between a characteristic's limits. */
export interface RoomForVerdicts {
  readonly rule: "uncertainty" | "guard band";
  /** What was found, without what to do. */
  readonly finding: string;
}

/** An uncertainty (k = 2) should be no more than this part of what is judged with it; common practice, no source. */
const MOST_EXPANDED = 1 / 4;
/** A guard band should leave more than this part of the values within the limits; common practice, no source. */
const LEAST_LEFT = 1 / 2;
const COVERAGE_FACTOR = 2;

/**
 * Whether limits leave room for verdicts at this uncertainty: values that pass (JCGM 106:2012, 8.3.2), and more of them than the
 * guard bands take.
 * @param uncertainty standard, SI, of a value at the limits
 * @returns null where they do
 * @example roomForVerdicts({ upper: 1e-6, rule: { kind: "guarded", conformance: 0.95 }, ... }, 4e-7) // guard band: 6.58e-7 of 1e-6, so that values up to 3.42e-7 pass
 */
export function roomForVerdicts(characteristic: Characteristic, uncertainty: number): RoomForVerdicts | null {
  const { lower, upper, rule, measurand } = characteristic;
  const shown = (value: number) =>
    formatQuantity(value, DIMENSION_OF[measurand], characteristic.unit, {
      significant: 3,
      reference: HOUSE_REFERENCE,
    });
  const known = `A value at the limit is known to +- ${shown(COVERAGE_FACTOR * uncertainty)} (k = 2)`;
  // A leak rate and the like can't be below nothing.
  const width = upper === undefined ? lower : upper - (lower ?? 0);
  if (width === undefined) return null;
  if (rule.kind === "guarded") {
    const accepted = guardedLimits(uncertainty, rule.conformance, lower, upper);
    const [from, to] = [accepted?.lower ?? 0, accepted?.upper ?? Number.POSITIVE_INFINITY];
    if (!accepted || to <= from) {
      return {
        rule: "guard band",
        finding: `${known}, and then no value within the limits is sure enough to pass by a conformance of ${100 * rule.conformance} %`,
      };
    }
    if (upper !== undefined && to - from < LEAST_LEFT * width) {
      return {
        rule: "guard band",
        finding: `${known}, and then the guard band leaves only ${lower === undefined ? `values up to ${shown(to)}` : `${shown(from)} to ${shown(to)}`} to pass`,
      };
    }
  }
  if (COVERAGE_FACTOR * uncertainty <= MOST_EXPANDED * width) return null;
  const judgedWith =
    upper !== undefined && lower !== undefined
      ? `the ${shown(width)} between the limits`
      : `the limit of ${shown(width)}`;
  return { rule: "uncertainty", finding: `${known}, more than a quarter of ${judgedWith}` };
}
