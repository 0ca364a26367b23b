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

/**
 * The same report on A4, as PDF.
 * @param software program and version, like "drumtight 0.1.0"
 */
export async function yieldPaper(report: YieldReport, detail: YieldDetail, software: string): Promise<Buffer> {
  // What lays out paper takes a third of a second to load.
  const { yieldPdf } = await import("./yield-pdf.ts");
  return yieldPdf(yieldDocument(report, detail, software), new Date(report.source.made_at), software);
}
