import { escaped } from "../escaped-text.ts";
import { formatNumber } from "../print-quantity.ts";
import { splitQuantity } from "../quantity.ts";
import type { LimitChange } from "./limit-diff.ts";

/**
 * A change as one line.
 * @example changeText(change) // "upper limit of the leak rate 60 -> 55 mL/min (tighter, 8.3 %)"
 */
export function changeText(change: LimitChange): string {
  const { kind, words, from, to, effect, by } = change;
  if (kind === "added" || kind === "removed") {
    return escaped(`${words} ${kind}: ${from ?? to}${effect === undefined ? "" : ` (${effect})`}`);
  }
  const remarks = [
    ...(change.to_in_unit_of_from === undefined ? [] : [`= ${change.to_in_unit_of_from}`]),
    ...(effect === undefined ? [] : [effect]),
    ...(by === undefined ? [] : [`${formatNumber(100 * by, { significant: 2 })} %`]),
  ];
  const said = remarks.length === 0 ? "" : ` (${remarks.join(", ")})`;
  return escaped(`${words} ${withoutSameUnit(from ?? "", to ?? "")} -> ${to}${said}`);
}

/** 60 mL/min before 55 mL/min goes without its unit. */
function withoutSameUnit(from: string, to: string): string {
  const [old, now] = [splitQuantity(from), splitQuantity(to)];
  if (!old.ok || !now.ok || old.value.unitText !== now.value.unitText) return from;
  return from.slice(0, from.length - old.value.unitText.length).trim();
}
