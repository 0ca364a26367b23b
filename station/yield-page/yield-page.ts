import type { YieldReport } from "../yield/yield-report.ts";
import type { YieldDetail } from "./yield-detail.ts";
import { yieldDocument } from "./yield-document.ts";
import { type HtmlPlace, yieldHtml } from "./yield-html.ts";

/**
 * A report as one page of its own.
 * @param place where it is to lie, for its links
 */
export function yieldPage(report: YieldReport, detail: YieldDetail, place: HtmlPlace): string {
  return yieldHtml(yieldDocument(report, detail, place.software), place);
}
