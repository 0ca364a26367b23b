import { dirname, resolve } from "node:path";
import { softwareName } from "../package-root.ts";
import type { YieldReport } from "../yield/yield-report.ts";
import { askedTime } from "../yield-data/yield-query.ts";
import { collectYieldDetail } from "./collect-yield-detail.ts";
import type { YieldDetail } from "./yield-detail.ts";
import { yieldDocument } from "./yield-document.ts";
import { yieldHtml } from "./yield-html.ts";

/**
 * A report and what the records tell besides, as one page.
 * @param file that it is to lie in, for its links; undefined where nobody knows
 * @throws RecordError where the records can't be read
 */
export async function yieldPage(report: YieldReport, file: string | undefined): Promise<string> {
  const software = softwareName();
  return yieldHtml(yieldDocument(report, await detailOf(report), software), {
    software,
    pageFolder: file === undefined ? null : dirname(resolve(file)),
    recordsFolder: resolve(report.source.folder),
  });
}

/**
 * The same report on A4, as PDF.
 * @throws RecordError where the records can't be read
 */
export async function yieldPaper(report: YieldReport): Promise<Buffer> {
  const software = softwareName();
  const document = yieldDocument(report, await detailOf(report), software);
  // What lays out paper takes a third of a second to load.
  const { yieldPdf } = await import("./yield-pdf.ts");
  return yieldPdf(document, new Date(report.source.made_at), software);
}

function detailOf({ asked, source }: YieldReport): Promise<YieldDetail> {
  const { from, to, model, station } = asked;
  const { folder, broken } = source;
  const time = askedTime({ folder, from, to, by: [], shifts: [] });
  return collectYieldDetail({ folder, ...time, model, station, broken });
}
