import { dirname, resolve } from "node:path";
import { softwareName } from "../package-root.ts";
import type { YieldReport } from "../yield/yield-report.ts";
import type { YieldDetail } from "./yield-detail.ts";
import { yieldDocument } from "./yield-document.ts";
import { yieldHtml } from "./yield-html.ts";

/**
 * A report and what the records tell besides, as one page.
 * @param file that it is to lie in, for its links; undefined where nobody knows
 */
export function yieldPage(report: YieldReport, detail: YieldDetail, file: string | undefined): string {
  const software = softwareName();
  return yieldHtml(yieldDocument(report, detail, software), {
    software,
    pageFolder: file === undefined ? null : dirname(resolve(file)),
    recordsFolder: resolve(report.source.folder),
  });
}

/** The same report on A4, as PDF. */
export async function yieldPaper(report: YieldReport, detail: YieldDetail): Promise<Buffer> {
  const software = softwareName();
  const document = yieldDocument(report, detail, software);
  // What lays out paper takes a third of a second to load.
  const { yieldPdf } = await import("./yield-pdf.ts");
  return yieldPdf(document, new Date(report.source.made_at), software);
}
