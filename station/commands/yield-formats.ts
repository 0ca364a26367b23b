import { UsageError } from "../explain.ts";
import type { YieldGrouping } from "../yield/yield-report.ts";
import type { DecimalSign } from "../yield-export/csv.ts";
import type { YieldTableName } from "../yield-export/yield-tables.ts";
import type { ToldBesides, YieldAnswer } from "../yield-page/collect-answer.ts";
import { pageGroupings } from "../yield-page/page-groupings.ts";
import type { YieldDetail } from "../yield-page/yield-detail.ts";

/** What was asked of a format beside its name. */
export interface FormatOptions {
  /** Of CSV only. */
  readonly decimal?: DecimalSign | undefined;
  readonly what?: YieldTableName | undefined;
  /** Where somebody opens it; undefined for standard output, which a program reads. */
  readonly file: string | undefined;
}

export interface YieldFormat {
  /** What it is called in sentences. */
  readonly what: string;
  readonly isBinary?: true;
  /** What is told besides the counts; nothing unless stated. */
  readonly tells?: Partial<ToldBesides>;
  /** What is told apart where `--by` says nothing; nothing unless stated. */
  groupings?(from: string | null, to: string | null): readonly YieldGrouping[];
  /** Loads what writes it, and writes it. */
  write(answer: YieldAnswer, options: FormatOptions): Promise<string | Uint8Array>;
}

/** The first one is taken where none is asked for. */
export const YIELD_FORMATS: Readonly<Record<string, YieldFormat>> = {
  table: {
    what: "table",
    async write({ report }) {
      const { yieldText } = await import("../yield-export/yield-text.ts");
      return yieldText(report);
    },
  },
  json: {
    what: "JSON object",
    tells: { warnings: true },
    write: async ({ report }) => `${JSON.stringify(report)}\n`,
  },
  csv: {
    what: "table",
    async write({ report }, { decimal = "point", what = "groups", file }) {
      const { yieldCsv } = await import("../yield-export/csv.ts");
      return yieldCsv(report, { decimal, table: what, byteOrderMark: file !== undefined });
    },
  },
  html: {
    what: "page",
    tells: { warnings: true, detail: true },
    groupings: pageGroupings,
    write: async ({ report, detail }, { file }) =>
      (await import("../yield-page/made-page.ts")).yieldPage(report, needed(detail), file),
  },
  pdf: {
    what: "PDF",
    tells: { warnings: true, detail: true },
    isBinary: true,
    groupings: pageGroupings,
    write: async ({ report, detail }) =>
      (await import("../yield-page/made-page.ts")).yieldPaper(report, needed(detail)),
  },
  xlsx: {
    what: "workbook",
    isBinary: true,
    async write({ report }) {
      const { yieldWorkbook } = await import("../yield-export/workbook.ts");
      return await yieldWorkbook(report);
    },
  },
};

/** Of a format that tells it. */
function needed(detail: YieldDetail | null): YieldDetail {
  if (!detail) throw new Error("The detail of a page was not collected.");
  return detail;
}

/** @throws UsageError for an option that this format knows nothing of */
export function requireOptionsOf(format: string, { decimal, what }: Omit<FormatOptions, "file">): void {
  if (format === "csv") return;
  const odd = decimal !== undefined ? "--decimal" : what !== undefined ? "--what" : null;
  if (odd === null) return;
  throw new UsageError(`${odd} is for --format csv: add that, or leave ${odd} out.`);
}
