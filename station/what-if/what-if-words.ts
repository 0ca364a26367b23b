import { DIMENSION_OF } from "../../limits/measurand.ts";
import type { Characteristic } from "../../limits/model.ts";
import { formatNumber, formatQuantity } from "../../limits/print-quantity.ts";
import type { NotRejudged } from "./rejudge.ts";
import type { Yield } from "./what-if-summary.ts";

/** Why units can't be judged again, after their number. */
export const WHY_NOT: Readonly<Record<NotRejudged, string>> = {
  void: "void",
  "not in the history": "without a value that these limits judge",
  "not reached": "stopped before something that these limits judge was measured",
  "other method": "by another leak method (--from-curves)",
  "other settling time": "after another settling time (--from-curves)",
  "other measuring time": "over another measuring time (--from-curves)",
  "other early verdict": "with or without looks, other than these limits (--from-curves)",
  "other test pressure": "at another test pressure",
  "other airflow conditions": "with airflow stated at another voltage, correction or orifice",
  "no curve": "without a stored curve",
  "curve too short": "whose curve ends before a verdict by these settings",
  "no settle calibration": "by a method that needs to know how the model settles",
};

/** @example counted(1, "unit") // "1 unit" */
export function counted(count: number, one: string, more = `${one}s`): string {
  return `${count} ${count === 1 ? one : more}`;
}

/** @example yieldText(...) // "95.1 (91.2-97.6)", in percent with its 95 % interval */
export function yieldText(it: Yield | null): string {
  if (!it) return "";
  const tenths = (part: number) => (100 * part).toFixed(1);
  return `${tenths(it.yield)} (${tenths(it.lower)}-${tenths(it.upper)})`;
}

/** @example percent(0.951) // "95.10 %" */
export function percent(part: number): string {
  return `${(100 * part).toFixed(2)} %`;
}

/** @example signed(-0.0276) // "-2.76" */
export function signed(part: number): string {
  return `${part < 0 ? "-" : "+"}${(100 * Math.abs(part)).toFixed(2)}`;
}

/** @example limitsText(...) // "at most 30 mL/min, conformance 95 %" */
export function limitsText({ lower, upper, unit, rule, measurand }: Characteristic): string {
  const shown = (value: number) => formatQuantity(value, DIMENSION_OF[measurand], unit);
  const least = lower === undefined ? null : shown(lower);
  const most = upper === undefined ? null : shown(upper);
  const limits = least && most ? `${least} to ${most}` : most ? `at most ${most}` : `at least ${least}`;
  return rule.kind === "simple" ? limits : `${limits}, conformance ${formatNumber(100 * rule.conformance)} %`;
}
