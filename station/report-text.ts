import { formatMeasured, formatNumber } from "../limits/print-quantity.ts";
import { decidedEarly, secondsText } from "./records/early-verdict-text.ts";
import { failureNames, grossFinding } from "./records/failure-names.ts";
import type { Traveller } from "./records/traveller.ts";

type Characteristic = Traveller["characteristics"][number];

/** @example withLimit(leak) // "6 +- 27 (<= 60, sure after 6.3 s) mL/min", without these words where it was measured to the end */
export function withLimit(characteristic: Characteristic): string {
  const { lower, upper, unit } = characteristic;
  const early = decidedEarly(characteristic);
  const limits = [
    lower === undefined ? "" : `>= ${formatNumber(lower)}`,
    upper === undefined ? "" : `<= ${formatNumber(upper)}`,
    early === null ? "" : `sure after ${secondsText(early.afterFill_s)}`,
  ].filter((text) => text !== "");
  return `${numberText(characteristic)} (${limits.join(", ")}) ${shortUnit(unit)}`;
}

/** @example numberText(leak) // "34.3 +- 1.7", U with k = 2 */
export function numberText({
  value,
  uncertainty,
  expanded_uncertainty,
  lower,
  upper,
}: Characteristic): string {
  if (value === null) return "not measured";
  if (uncertainty === null || expanded_uncertainty === null) return `about ${Number(value.toPrecision(2))}`;
  const comparedWith = [lower, upper].filter((limit) => limit !== undefined);
  const text = formatMeasured({ value, uncertainty: expanded_uncertainty, comparedWith });
  return `${text.value} +- ${text.uncertainty}`;
}

/** The one number that says how a unit pulls, by what its limit file judges. */
const PULL: readonly Characteristic["measurand"][] = ["largest_suction_power", "suction_power", "suction"];

/** @example airflowText(traveller) // "suction 22.35 kPa" */
export function airflowText({ characteristics }: Traveller): string {
  const airflow = characteristics.filter(({ measurand }) => measurand !== "leak_rate");
  if (airflow.length > 0 && airflow.every(({ value }) => value === null)) return "airflow not measured";
  const told =
    PULL.flatMap((measurand) => airflow.find((it) => it.measurand === measurand) ?? [])[0] ?? airflow[0];
  if (!told) return "no airflow step";
  const name = PULL.includes(told.measurand)
    ? told.measurand.replace("largest_", "").replaceAll("_", " ")
    : told.name.replaceAll("_", " ");
  return `${name} ${plainText(told)}`;
}

/** @example suspectText(traveller) // "suspect: blocked path, else weak motor", where to look left out */
export function suspectText({ suspects = [] }: Traveller): string {
  const [first, second] = suspects;
  if (!first) return "";
  return `suspect: ${first.cause}${second ? `, else ${second.cause}` : ""}`;
}

/** What failed, as a line of a log has room for: the rest stands in the traveller, and the suspect sums it up. */
const MOST_NAMES = 2;

export function shortReason(traveller: Traveller): string {
  if (traveller.verdict === "fail") {
    const namesOf = (isOne: (it: Characteristic) => boolean) =>
      new Set(traveller.characteristics.filter(isOne).map(({ name }) => name.replaceAll("_", " ")));
    const close = namesOf(isWithinLimits);
    const unmeasured = namesOf(({ uncertainty }) => uncertainty === null);
    const gross = grossFinding(traveller);
    const names = failureNames(traveller).map((name) => {
      if (close.has(name)) return `${name} too close to its limit`;
      return gross !== null && unmeasured.has(name) ? `${name} (${gross})` : name;
    });
    const more = names.length - MOST_NAMES;
    // A line that names one more instead of counting it is no longer.
    return more > 1 ? `${names.slice(0, MOST_NAMES).join(", ")} and ${more} more` : names.join(", ");
  }
  return traveller.reasons.map((reason) => reason.sentence).join(" ");
}

/** Reference conditions stand in the traveller; a line for people has no room for them. */
export function shortUnit(unit: string): string {
  return unit.split(" @ ")[0] ?? unit;
}

/** Without uncertainty, but with as many digits as it takes to tell the value from its limits. */
function plainText({ value, unit, lower, upper }: Characteristic): string {
  if (value === null) return "not measured";
  const comparedWith = [lower, upper].filter((limit) => limit !== undefined);
  return `${formatMeasured({ value, comparedWith }).value} ${shortUnit(unit)}`;
}

/** Within its limits and yet failed means: not by enough to be sure. */
function isWithinLimits({ value, lower, upper }: Characteristic): boolean {
  return value !== null && value >= (lower ?? value) && value <= (upper ?? value);
}
