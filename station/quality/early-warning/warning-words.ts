import { formatNumber } from "../../../limits/print-quantity.ts";
import type { EarlyWarning } from "./early-warning.ts";

/** @example "Leak rate of POD-4, tub cavity P2, rises since POD000123, 14 units: tell the quality engineer." */
export function warningSentence(
  it: Pick<EarlyWarning, "model" | "characteristic" | "cavity" | "direction" | "units"> & { first: string },
): string {
  const { model, characteristic, cavity, direction, units, first } = it;
  const name = `${characteristic.charAt(0).toUpperCase()}${characteristic.slice(1)}`;
  const where = cavity === null ? "" : `, ${cavity.part.replaceAll("_", " ")} ${cavity.value},`;
  const count = `${units} ${units === 1 ? "unit" : "units"}`;
  return `${name} of ${model}${where} ${direction} since ${first}, ${count}: tell the quality engineer.`;
}

/** @example "From 4.1 to 8.2 mL/min (medians), 1.3 standard deviations. Changed then: gasket lot from G2411 to G2412 (2 units before)." */
export function changeText(
  it: Pick<EarlyWarning, "before" | "since" | "unit" | "shift_sd" | "changed">,
): string {
  const { before, since, unit, shift_sd, changed } = it;
  const number = (value: number) => formatNumber(value, { significant: 3 });
  const level = `From ${number(before)} to ${number(since)} ${unit} (medians), ${number(Math.abs(shift_sd))} standard deviations.`;
  const then = changed.map(({ what, from, to, offset }) => {
    const away = Math.abs(offset);
    const where =
      offset === 0 ? "" : ` (${away} ${away === 1 ? "unit" : "units"} ${offset < 0 ? "before" : "after"})`;
    return `${what.replaceAll("_", " ")} from ${from} to ${to}${where}`;
  });
  return `${level} ${then.length === 0 ? "Nothing that is recorded changed then." : `Changed then: ${then.join(", ")}.`}`;
}
