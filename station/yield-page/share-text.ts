import type { Share } from "../yield/yield-report.ts";

const MOST_DECIMALS = 6;

/**
 * A part in percent, with as many decimals more than one as it takes to tell it from none and from all.
 * @example percentText(0.9734) // "97.3 %"; percentText(0.99996) // "99.996 %"
 */
export function percentText(part: number): string {
  return `${percentNumber(part)} %`;
}

/** The same without its unit, for a table that has it in the heading. */
export function percentNumber(part: number): string {
  let decimals = 1;
  const hidden = () => {
    const shown = Number((100 * part).toFixed(decimals));
    return (shown === 100 && part < 1) || (shown === 0 && part > 0);
  };
  while (decimals < MOST_DECIMALS && hidden()) decimals++;
  return (100 * part).toFixed(decimals);
}

/** @example countText(146, 150) // "146 of 150 units" */
export function countText({ count, of }: Pick<Share, "count" | "of">): string {
  return `${grouped(count)} of ${unitsText(of)}`;
}

/** @example unitsText(1) // "1 unit" */
export function unitsText(count: number): string {
  return `${grouped(count)} ${count === 1 ? "unit" : "units"}`;
}

/** @example intervalText(share) // "95 %: 93.3 to 99.3 %" */
export function intervalText({ lower, upper }: Share): string | null {
  return lower === null || upper === null ? null : `95 %: ${percentNumber(lower)} to ${percentText(upper)}`;
}

/** Thousands apart by a narrow space, which is no point and no comma anywhere. @example grouped(12500) // "12\u202f500" */
export function grouped(count: number): string {
  return String(count).replace(/\B(?=(\d{3})+$)/g, "\u202f");
}
