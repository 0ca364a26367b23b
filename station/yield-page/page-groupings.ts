import type { YieldGrouping } from "../yield/yield-report.ts";

/** What a page tells units apart by where nobody said: a day by its hours, more of them by days. */
export function pageGroupings(from: string | null, to: string | null): readonly YieldGrouping[] {
  return [from !== null && from === to ? "hour" : "day", "model", "cavity"];
}
