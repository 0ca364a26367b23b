import { escaped } from "../escaped-text.ts";
import { formatNumber } from "../print-quantity.ts";
import { splitQuantity } from "../quantity.ts";
import type { LimitChange } from "./limit-diff.ts";

/**
 * A change as one line.
 * @example changeText(change) // "upper limit of the leak rate 60 -> 55 mL/min (tighter, 8.3 %)"
 */
export function changeText(change: LimitChange): string {
  const { kind, words, from, to, effect } = change;
  if (kind === "added" || kind === "removed") {
    return escaped(`${words} ${kind}: ${from ?? to}${effect === undefined ? "" : ` (${effect})`}`);
  }
  const remarks = remarksOn(change);
  const said = remarks === "" ? "" : ` (${remarks})`;
  return escaped(`${words} ${withoutSameUnit(from ?? "", to ?? "")} -> ${to}${said}`);
}

/**
 * The same in parts, for where one line is too short: what changed, then the old and the new and what is remarked of them.
 * @example changeParts(change) // ["reason", "from Limits of the pilot build.", "to Gasket of lot G0042 leaks less."]
 */
export function changeParts(change: LimitChange): readonly string[] {
  const { kind, words, from, to, effect } = change;
  const isWhole = kind === "added" || kind === "removed";
  const remarks = isWhole ? (effect ?? "") : remarksOn(change);
  const values = isWhole ? [from ?? to] : [`from ${from}`, `to ${to}`];
  return [
    isWhole ? `${words} ${kind}` : words,
    ...values.flatMap((value) => value ?? []),
    ...(remarks === "" ? [] : [`(${remarks})`]),
  ].map(escaped);
}

function remarksOn({ to_in_unit_of_from, effect, by }: LimitChange): string {
  return [
    ...(to_in_unit_of_from === undefined ? [] : [`= ${to_in_unit_of_from}`]),
    ...(effect === undefined ? [] : [effect]),
    ...(by === undefined ? [] : [`${formatNumber(100 * by, { significant: 2 })} %`]),
  ].join(", ");
}

/** 60 mL/min before 55 mL/min goes without its unit. */
function withoutSameUnit(from: string, to: string): string {
  const [old, now] = [splitQuantity(from), splitQuantity(to)];
  if (!old.ok || !now.ok || old.value.unitText !== now.value.unitText) return from;
  return from.slice(0, from.length - old.value.unitText.length).trim();
}
